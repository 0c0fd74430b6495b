-- Every numbered hearing with the time at which its burst was measured, in whole milliseconds.
-- No burst is heard before it is measured, and a mote's period is true to drift_ppm: so each hearing of a boot
-- bounds the sampling time of every other one from above, and the least bound is taken. The bounds from earlier
-- bursts grow by a slow period, those from later ones shrink by a fast one: two running minima, in nanoseconds.
-- What hearings before the window bound comes with the course.
create or replace temp table timed as
with bounded as (
    select
        booted.*,
        seq * (period_us * 1000 + drift_ns) + least(
            min(heard_us * 1000 - seq * (period_us * 1000 + drift_ns)) over (in_order rows unbounded preceding),
            course.slow_ns) as from_earlier_ns,
        seq * (period_us * 1000 - drift_ns) + min(heard_us * 1000 - seq * (period_us * 1000 - drift_ns))
            over (in_order rows between current row and unbounded following) as from_later_ns,
        lag(seq) over in_order as seq_before,
        lead(seq) over in_order as seq_after
    from booted
    left join work.course as course on course.mote = booted.mote
    window in_order as (partition by booted.mote, boot_us order by seq)
)
select
    hearing, mote, boot_us, seq, heard_us, gateway, period_us, is_certain, is_torn,
    least(from_earlier_ns, from_later_ns) // 1000000 as sampled_ms,
    seq is not distinct from seq_before or seq is not distinct from seq_after as is_shared
from bounded
