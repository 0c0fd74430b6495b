with zone_minute_value as materialized (
    -- made of motes, not of series.zone_departure: a measure whose name is known only while it runs is then looked for while
    -- reading in every plan, and not after all measures were grouped
    select d.zone, d.minute_at, count(*)::integer as motes, avg(d.value) as value
    from series.mote_departure d
    where d.measure = of_measure
    group by d.zone, d.minute_at
)
select z.zone, epoch(z.minute_at)::bigint // 60 as minute_number, z.motes, z.value
from zone_minute_value z
union all
select '*', epoch(z.minute_at)::bigint // 60, sum(z.motes)::integer, sum(z.value * z.motes) / sum(z.motes)
from zone_minute_value z
group by z.minute_at
