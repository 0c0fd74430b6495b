-- Zones minute by minute. A mote's count is scaled to the whole minute where it covers at least half of it, so that
-- a lost burst does not look like fewer people.
delete from zone_minute
using zone_reach as reach
where reach.measure = zone_minute.measure
    and zone_minute.minute_at >= reach.from_at and zone_minute.minute_at <= reach.to_at
    and zone_minute.minute_at >= $from_at and zone_minute.minute_at < $to_at;
insert into zone_minute by name
with used as (
    select
        minute.zone, minute.measure, minute.minute_at, minute.n, measure.kind,
        case when measure.kind in ('count', 'total') then minute.value * 60 / minute.covered_s else minute.value end as value
    from mote_minute as minute
    join measure on measure.measure = minute.measure and (measure.kind not in ('count', 'total') or minute.covered_s >= 30)
    join zone_reach as reach on reach.measure = minute.measure
        and minute.minute_at >= reach.from_at and minute.minute_at <= reach.to_at
    where minute.minute_at >= $from_at and minute.minute_at < $to_at
        and minute.zone is not null and minute.value is not null
),
summed as (
    select
        zone, measure, minute_at, any_value(kind) as kind, count(*)::integer as motes, sum(n)::integer as n,
        sum(fixed(value)) as total,
        sum(case when kind = 'decibel' then fixed_power(value) end) as power
    from used
    group by zone, measure, minute_at
)
select
    summed.zone, zone.level, summed.measure, summed.minute_at, summed.motes,
    greatest(summed.motes, coalesce(expected.motes, 0))::integer as motes_expected, summed.n,
    case
        when summed.kind in ('count', 'total') then loose(summed.total)
        when summed.kind = 'decibel' then loose_power(summed.power / summed.motes)
        else loose(summed.total) / summed.motes
    end as value
from summed
join zone using (zone)
left join expected
    on expected.zone = summed.zone and expected.measure = summed.measure
    and expected.from_at <= summed.minute_at and expected.to_at > summed.minute_at
order by epoch_us(summed.minute_at) // 3600000000
