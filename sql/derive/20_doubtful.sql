-- Measures of motes that may hold a flat run in their scope, or did. A flat run (24_flat_burst) that bears upon the
-- scope covers two stretches of time at least, as far as bursts are in hand, and so one of those into which time is cut:
-- there the measure has but one value, or no burst is there and the same value stands before and after. A mote of which
-- less than two stretches before the scope are in hand is doubtful too.
create or replace temp table doubtful as
with near as (
    select mote, seen_from, scope_begin(from_at, $near) as from_at, scope_end(to_at, $near) as to_at
    from reach
),
stretch as (
    select
        burst.mote, epoch_us(burst.sampled_at) // $stretch_us as stretch,
        min(burst.sampled_at) as first_at, max(burst.sampled_at) as last_at,
        min(reading_<measure>) = max(reading_<measure>) as is_constant_<measure>,
    from burst_in_hand as burst
    join near on near.mote = burst.mote
        and burst.sampled_at >= near.from_at - $margin and burst.sampled_at <= near.to_at + $margin
    where $stretch_us is not null
    group by all
),
whole as (
    select
        *,
        stretch * $stretch_us >= epoch_us(min(first_at) over (partition by mote))
            and (stretch + 1) * $stretch_us <= epoch_us(max(last_at) over (partition by mote)) as is_whole,
        lead(stretch) over (partition by mote order by stretch) > stretch + 1 as is_before_gap,
        lead(first_at) over (partition by mote order by stretch) as next_at
    from stretch
),
suspected as (
    select
        mote,
        bool_or(is_constant_<measure> and is_whole) or count(is_constant_<measure>) between 1 and count(*) - 1 as is_<measure>,
    from whole
    group by mote
    union all by name
    select
        whole.mote,
        coalesce(before.reading_<measure> = after.reading_<measure>, true) as is_<measure>,
    from whole
    join burst_in_hand as before on before.mote = whole.mote and before.sampled_at = whole.last_at
    join burst_in_hand as after on after.mote = whole.mote and after.sampled_at = whole.next_at
    where is_before_gap
)
select distinct mote, measure
from suspected
unpivot (is_suspected for measure in (
    is_<measure> as '<measure>'
))
where is_suspected
union
select near.mote, measure.measure
from near
cross join measure
where near.seen_from > near.from_at - 2 * to_microseconds($stretch_us) and measure.flat_after_min is not null
union
select reading.mote, reading.measure
from reading
join near on near.mote = reading.mote
    and reading.sampled_at >= near.from_at - $margin and reading.sampled_at <= near.to_at + $margin
where contains(reading.reason, 'flat')
    and reading.sampled_at >= $from_at and reading.sampled_at < $to_at
