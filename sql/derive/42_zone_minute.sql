-- Zones minute by minute. A mote's count is scaled to the whole minute where it covers at least half of it, so that
-- a lost burst does not look like fewer people.
insert into zone_minute by name
with used as (
    select
        zone, minute_at, n,
        case when $kind in ('count', 'total') then value * 60 / covered_s else value end as value
    from mote_minute
    where measure = $measure and minute_at >= $from_at and minute_at < $to_at
        and zone is not null and value is not null
        and ($kind not in ('count', 'total') or covered_s >= 30)
),
summed as (
    select
        zone, minute_at, count(*)::integer as motes, sum(n)::integer as n,
        case
            when $kind in ('count', 'total') then loose(sum(fixed(value)))
            when $kind = 'decibel' then loose_power(sum(fixed_power(value)) / count(*))
            else loose(sum(fixed(value))) / count(*)
        end as value
    from used
    group by zone, minute_at
)
select
    summed.zone, zone.level, $measure as measure, summed.minute_at, summed.motes,
    greatest(summed.motes, coalesce(expected.motes, 0))::integer as motes_expected, summed.n, summed.value
from summed
join zone using (zone)
asof left join (from expected where measure = $measure) as expected
    on expected.zone = summed.zone and expected.from_at <= summed.minute_at
order by summed.zone, summed.minute_at
