-- Readings of one measure in one slice of time, with as much around them as the tests look at, each with its
-- neighbours where those are the bursts right before and after. Only where a mote may be flat does that reach far.
create or replace temp table course as
with candidate as (
    select burst, mote, boot, seq, sampled_at, value, null::utinyint as flag_before, null::varchar as reason_before
    from measured
    where sampled_at >= $from_at - 2 * $margin and sampled_at < $to_at + 2 * $margin
    union all
    select reading.burst, reading.mote, around.boot, around.seq, reading.sampled_at, reading.value,
           reading.flag, reading.reason
    from reading
    join (from around where is_near or mote in (from doubtful)) as around using (burst)
    where reading.measure = $measure
        and reading.sampled_at >= $from_at - 2 * $margin and reading.sampled_at < $to_at + 2 * $margin
)
select
    candidate.burst, candidate.mote, candidate.sampled_at, candidate.value, candidate.flag_before, candidate.reason_before,
    period.period_us,
    case when is_next(lag(seq, 1) over course, seq, lag(sampled_at, 1) over course, sampled_at, period_us)
        then lag(value, 1) over course end as before,
    case when is_next(lag(seq, 2) over course, lag(seq, 1) over course,
                      lag(sampled_at, 2) over course, lag(sampled_at, 1) over course, period_us)
        then lag(value, 2) over course end as two_before,
    case when is_next(seq, lead(seq, 1) over course, sampled_at, lead(sampled_at, 1) over course, period_us)
        then lead(value, 1) over course end as after
from candidate
join work.mote_period as period using (mote)
window course as (partition by candidate.mote order by sampled_at, burst)
