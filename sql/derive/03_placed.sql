-- Each hearing with the start of its boot. On time: at most 3 s after a start's own hearings.
create or replace temp table placed as
select
    hearing.hearing, hearing.mote, hearing.seq, hearing.heard_us, hearing.gateway, hearing.period_us, hearing.drift_ns, hearing.start_us,
    start.low_us as boot_us,
    coalesce(hearing.start_us <= start.high_us + 3000000, false) as is_on_time
from hearing_in_hand as hearing
asof left join start on hearing.mote = start.mote and hearing.start_us >= start.low_us
where hearing.seq is not null
