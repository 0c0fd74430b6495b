select u.zone, u.value from series.usual_level_of u where u.measure = of_measure
union all
select '*', statistics.mean_of_kind(k.kind, r.value)
from mote_reference r
join measure k on k.measure = r.measure
where r.measure = of_measure and r.value is not null
having count(*) > 0
