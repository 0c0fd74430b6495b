-- Of the motes that just went on, the hearings of their latest boot from seq_from on: those of its start, and late
-- ones that were found to be of it.
create or replace temp table hearing_in_hand as
select
    hearing.rowid as hearing,
    epoch_us(hearing.received_at) as heard_us,
    epoch_us(hearing.received_at) - hearing.seq * period.period_us as start_us,
    period.period_us,
    period.drift_ns,
    hearing.* replace (coalesce(hearing.gateway, '') as gateway),
    late.object is not null as is_late,
    coalesce(late.is_torn, false) as is_torn
from work.hearing
join work.course using (mote)
join work.mote_period as period using (mote)
left join work.late as late on late.object = hearing.object and late.line = hearing.line
where period.bucket = $bucket
    and hearing.received_at >= $heard_from
    and hearing.seq >= course.seq_from
    and start_us >= course.low_us
    and (start_us <= course.high_us + 3000000 or late.object is not null)
