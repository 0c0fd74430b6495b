-- where series.zone_departure is a table, a measure is looked for while it is read
with zone_minute_value as materialized (
    select d.zone, d.minute_at, d.motes, d.value from series.zone_departure d where d.measure = of_measure
)
select z.zone, epoch(z.minute_at)::bigint // 60 as minute_number, z.motes, z.value
from zone_minute_value z
union all
select '*', epoch(z.minute_at)::bigint // 60, sum(z.motes)::integer, sum(z.value * z.motes) / sum(z.motes)
from zone_minute_value z
group by z.minute_at
