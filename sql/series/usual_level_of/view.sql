select p.zone, r.measure, statistics.mean_of_kind(k.kind, r.value) as value
from mote_reference r
join measure k on k.measure = r.measure
join mote_place p on p.mote = r.mote and r.from_at >= p.from_at and r.from_at < p.to_at
where p.zone is not null and r.value is not null
group by p.zone, r.measure
