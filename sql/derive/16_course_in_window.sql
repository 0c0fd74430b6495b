update work.course
set seq_from = gone_on.seq_from, slow_ns = least(course.slow_ns, gone_on.slow_ns), fast_ns = gone_on.fast_ns
from (
    select
        booted.mote, any_value(onward.seq_from) as seq_from,
        min(heard_us * 1000 - seq * (period_us * 1000 + drift_ns)) filter (seq < onward.seq_from) as slow_ns,
        min(heard_us * 1000 - seq * (period_us * 1000 - drift_ns)) filter (seq >= onward.seq_from) as fast_ns
    from booted
    join (
        select booted.mote, greatest(any_value(course.seq_from), max(seq) - $bursts_back) as seq_from
        from booted
        join work.course as course using (mote)
        group by booted.mote
    ) as onward on onward.mote = booted.mote
    group by booted.mote
) as gone_on
where gone_on.mote = course.mote
