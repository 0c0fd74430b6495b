-- Every numbered hearing with its boot and the time at which its burst was measured, in whole milliseconds.
-- No burst is heard before it is measured, and a mote's period is true to drift_ppm: so each hearing of a boot
-- bounds the sampling time of every other one from above, and the least bound is taken. The bounds from earlier
-- bursts grow by a slow period, those from later ones shrink by a fast one: two running minima, in nanoseconds.
create or replace temp table timed as
with booted as (
    select hearing, mote, seq, heard_us, gateway, period_us, drift_ns, boot_us, true as is_certain
    from placed
    where is_on_time
    union all
    select placed.hearing, mote, seq, heard_us, gateway, period_us, drift_ns, stray_boot.boot_us, stray_boot.is_certain
    from placed
    join stray_boot using (hearing)
),
bounded as (
    select
        *,
        seq * (period_us * 1000 + drift_ns) + min(heard_us * 1000 - seq * (period_us * 1000 + drift_ns)) over earlier as from_earlier_ns,
        seq * (period_us * 1000 - drift_ns) + min(heard_us * 1000 - seq * (period_us * 1000 - drift_ns)) over later as from_later_ns,
        lag(seq) over earlier as seq_before,
        lead(seq) over earlier as seq_after
    from booted
    window
        earlier as (partition by mote, boot_us order by seq),
        later as (partition by mote, boot_us order by seq desc)
)
select
    hearing, mote, boot_us, seq, heard_us, gateway, period_us, is_certain,
    least(from_earlier_ns, from_later_ns) // 1000000 as sampled_ms,
    seq is not distinct from seq_before or seq is not distinct from seq_after as is_shared
from bounded
