-- where series.zone_departure is a table, a measure is looked for while it is read
select d.minute_at, sum(d.motes)::integer as motes, sum(d.motes * d.value) / sum(d.motes) as value
from series.zone_departure d
where d.measure = of_measure and (in_zone is null or d.zone = in_zone)
group by d.minute_at
