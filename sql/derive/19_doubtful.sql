-- Motes with readings that may be flat around what changed, or were. A flat run (21_flat_burst) is longer than flat_us,
-- so with time cut into halves of that it covers one half at least: a mote that has no half of one value, and no empty
-- one, has no flat run.
create or replace temp table doubtful as
with visible as (
    select mote, sampled_at, value, null::varchar as reason
    from measured
    where $flat_us is not null
        and sampled_at >= $from_at - 2 * $margin and sampled_at < $to_at + 2 * $margin
    union all
    select reading.mote, reading.sampled_at, reading.value, reading.reason
    from reading
    join around using (burst)
    where $flat_us is not null and reading.measure = $measure
        and reading.sampled_at >= $from_at - 2 * $margin and reading.sampled_at < $to_at + 2 * $margin
),
half as (
    select
        mote, epoch_us(sampled_at) // ($flat_us // 2) as half, min(value) = max(value) as is_of_one_value,
        min(sampled_at) as first_at, max(sampled_at) as last_at, bool_or(coalesce(contains(reason, 'flat'), false)) as was_flat
    from visible
    group by all
),
heard as (
    select mote, min(first_at) as first_at, max(last_at) as last_at, max(half) - min(half) + 1 > count(*) as has_empty
    from half
    group by mote
)
select distinct half.mote
from half
join heard using (mote)
where half.was_flat or heard.has_empty
    or (half.is_of_one_value
        and half.half * ($flat_us // 2) >= epoch_us(heard.first_at)
        and (half.half + 1) * ($flat_us // 2) <= epoch_us(heard.last_at))
