-- made of motes, not of series.zone_departure: a measure whose name is known only while it runs is then looked for while
-- reading in every plan, and not after all measures were grouped
select d.minute_at, count(*)::integer as motes, avg(d.value) as value
from series.mote_departure d
where d.measure = of_measure and (in_zone is null or d.zone = in_zone)
group by d.minute_at
