-- The hearings of the motes in hand, each with the period of its mote. Times are whole microseconds.
-- heard_us less seq periods is when the mote would have started, were there no delay: start_us.
create or replace temp table hearing_in_hand as
select
    hearing.rowid as hearing,
    epoch_us(hearing.received_at) as heard_us,
    epoch_us(hearing.received_at) - hearing.seq * period.period_us as start_us,
    period.period_us,
    period.drift_ns,
    hearing.* replace (coalesce(hearing.gateway, '') as gateway)
from work.hearing
join work.mote_period as period using (mote)
where period.bucket = $bucket
