-- The bursts that are looked at with all their readings, each beside the bursts before and after it. Most are in hand;
-- of a mote that just went on, others may lie around them.
create or replace temp table course as
with around as (
    select
        burst.burst, burst.mote, burst.seq, burst.sampled_at,
        any_value(stored.value) filter (stored.measure = '<measure>') as reading_<measure>,
    from burst
    join scope on scope.mote = burst.mote
        and burst.sampled_at >= scope.look_from and burst.sampled_at < scope.look_to
    left join stored on stored.burst = burst.burst
    anti join burst_in_hand on burst_in_hand.burst = burst.burst
    where scope.seen_from > '-infinity'::timestamptz
        and burst.sampled_at >= $from_at and burst.sampled_at < $to_at
    group by all
),
looked_at as (
    select
        burst.burst, burst.mote, burst.seq, burst.sampled_at,
        burst.reading_<measure>,
    from burst_in_hand as burst
    join scope on scope.mote = burst.mote
        and burst.sampled_at >= scope.look_from and burst.sampled_at < scope.look_to
    union all by name
    from around
)
select
    burst, mote, sampled_at, period_us,
    reading_<measure>,
    epoch_us(sampled_at) as at_us, lag(at_us) over in_time as before_us,
    periods_between(seq - lag(seq) over in_time, at_us - before_us, period_us) as periods_before,
    periods_between(
        lag(seq) over in_time - lag(seq, 2) over in_time, before_us - lag(at_us, 2) over in_time, period_us
    ) as periods_two_before,
    periods_between(lead(seq) over in_time - seq, lead(at_us) over in_time - at_us, period_us) as periods_after,
    lag(reading_<measure>) over in_time as before_<measure>,
    lag(reading_<measure>, 2) over in_time as two_before_<measure>,
    lead(reading_<measure>) over in_time as after_<measure>,
from looked_at
join work.mote_period using (mote)
window in_time as (partition by mote order by sampled_at, burst)
