-- One row per hearing of the motes in hand, as narrow as identity needs it. Times are whole microseconds.
-- heard_us less seq periods is when the mote would have started, were there no delay: start_us.
create or replace temp table hearing_in_hand as
select
    hearing.rowid as hearing,
    hearing.mote,
    hearing.seq,
    epoch_us(hearing.received_at) as heard_us,
    coalesce(hearing.gateway, '') as gateway,
    period.period_us,
    period.drift_ns,
    epoch_us(hearing.received_at) - hearing.seq * period.period_us as start_us
from work.hearing
join work.mote_period as period using (mote)
where period.bucket = $bucket
