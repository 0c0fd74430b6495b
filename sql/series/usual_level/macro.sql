with placed as (
    select p.zone, k.kind, r.value
    from mote_reference r
    join measure k on k.measure = r.measure
    join mote_place p on p.mote = r.mote and r.from_at >= p.from_at and r.from_at < p.to_at
    where r.measure = of_measure and p.zone is not null and r.value is not null
)
select p.zone, statistics.mean_of_kind(p.kind, p.value) as value from placed p group by p.zone
union all
select '*', statistics.mean_of_kind(p.kind, p.value) from placed p having count(*) > 0
