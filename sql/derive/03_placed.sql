-- Each hearing with the start of its boot, the latest that is not later. On time: at most 3 s after a start's own
-- hearings.
create or replace temp table placed as
with stretch as (
    select *, lead(low_us) over (partition by mote order by low_us) as next_us from start
)
select
    hearing.hearing, hearing.mote, hearing.seq, hearing.heard_us, hearing.gateway, hearing.period_us, hearing.drift_ns,
    hearing.start_us, stretch.low_us as boot_us,
    coalesce(hearing.start_us <= stretch.high_us + 3000000, false) as is_on_time
from hearing_in_hand as hearing
left join stretch on stretch.mote = hearing.mote
    and hearing.start_us >= stretch.low_us and hearing.start_us < coalesce(stretch.next_us, hearing.start_us + 1)
where hearing.seq is not null
