-- What is to be known of a mote's latest boot to go on from it: its place among the boots, its start (low_us to
-- high_us) with its latest hearing (last_us) and the nearest ones around it, the last burst of the start before
-- (floor_us), the latest seq of any late hearing that may be of it (its boot is never later than its own start_us),
-- and what bounds the sampling times on both sides of seq_from, bursts_back before the end.
insert into work.course by name
with latest as (
    select mote, max(low_us) as low_us, arg_max(high_us, low_us) as high_us, arg_max(last_us, low_us) as last_us
    from start
    group by mote
),
before as (
    select start.mote, max(start.last_us) as floor_us
    from start
    join latest on latest.mote = start.mote and start.low_us < latest.low_us
    group by start.mote
),
beside as (
    select
        placed.mote,
        max(start_us) filter (start_us < latest.low_us) as below_us,
        min(start_us) filter (start_us > latest.high_us) as above_us,
        max(seq) filter (not is_on_time and start_us >= latest.low_us) as late_seq
    from placed
    join latest using (mote)
    group by placed.mote
),
boot as (
    select mote, boot_us, max(seq) as seq_high from booted group by mote, boot_us
),
reached as (
    select
        boot.mote,
        count(*) filter (boot_us < latest.low_us) as boot,
        greatest(0, max(seq_high) filter (boot_us = latest.low_us) - $bursts_back) as seq_from
    from boot
    join latest using (mote)
    group by boot.mote
)
select
    latest.mote, any_value(reached.boot) as boot, any_value(latest.low_us) as low_us,
    any_value(latest.high_us) as high_us, any_value(latest.last_us) as last_us, any_value(before.floor_us) as floor_us,
    any_value(beside.below_us) as below_us, any_value(beside.above_us) as above_us, any_value(beside.late_seq) as late_seq,
    any_value(reached.seq_from) as seq_from,
    min(heard_us * 1000 - seq * (period_us * 1000 + drift_ns)) filter (seq < seq_from) as slow_ns,
    min(heard_us * 1000 - seq * (period_us * 1000 - drift_ns)) filter (seq >= seq_from) as fast_ns
from latest
join beside using (mote)
join reached using (mote)
left join before using (mote)
join booted on booted.mote = latest.mote and booted.boot_us = latest.low_us
group by latest.mote
