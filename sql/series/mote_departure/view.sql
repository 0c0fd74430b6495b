with reference as (
    select
        p.mote, p.measure, p.value, k.kind = 'count' as is_count, p.from_at,
        lead(p.from_at, 1, 'infinity') over (partition by p.mote, p.measure order by p.from_at) as to_at
    from mote_reference p
    join measure k on k.measure = p.measure
)
select
    m.mote, m.zone, m.measure, m.minute_at,
    case when r.is_count then m.value * 60 / m.covered_s else m.value end - r.value as value
from mote_minute m
join reference r
    on r.mote = m.mote and r.measure = m.measure and m.minute_at >= r.from_at and m.minute_at < r.to_at
where m.zone is not null and m.value is not null and (not r.is_count or m.covered_s >= 30)
