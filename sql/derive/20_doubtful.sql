-- Motes that may hold a flat run in their scope, or did. A flat run (24_flat_burst) that bears upon the scope covers
-- two stretches of time at least, as far as bursts are in hand, and so one of those into which time is cut: where each
-- of these holds two different values, there is none. A mote of which less than two stretches before the scope are in
-- hand is doubtful too.
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
            and (stretch + 1) * $stretch_us <= epoch_us(max(last_at) over (partition by mote)) as is_whole
    from stretch
)
select mote
from near
where seen_from > from_at - 2 * to_microseconds($stretch_us)
union
select mote
from whole
group by mote
having max(stretch) - min(stretch) + 1 > count(*) or list_contains([
    bool_or(is_constant_<measure> and is_whole) or count(is_constant_<measure>) between 1 and count(*) - 1
], true)
union
select reading.mote
from reading
join near on near.mote = reading.mote
    and reading.sampled_at >= near.from_at - $margin and reading.sampled_at <= near.to_at + $margin
where contains(reading.reason, 'flat')
    and reading.sampled_at >= $from_at and reading.sampled_at < $to_at
