with given as (
    select unnest(ps) as p, generate_subscripts(ps, 1) as place
),
ranked as (
    select g.place, g.p, row_number() over (order by g.p, g.place) as rank, count(*) over () as n from given g where g.p is not null
)
select
    r.place, r.p,
    least(1, min(r.p * r.n / r.rank) over from_here) as bh,
    least(1, min(r.p * r.n / r.rank * h.harmonic) over from_here) as "by"
from ranked r
cross join (select sum(1.0 / k.rank) as harmonic from ranked k) h
window from_here as (order by r.rank desc rows between unbounded preceding and current row)
order by r.place
