with bin as (
    select
        d.zone, d.measure, k.day_date, k.minute_of_day // every_min as part, min(d.minute_at) as bin_at,
        avg(d.value) as value, count(*) as n, round(avg(d.motes), 2) as motes
    from series.zone_departure d
    join series.clock k on k.minute_at = d.minute_at
    where (measure is null or d.measure = measure) and (zone is null or d.zone = zone)
    group by d.zone, d.measure, k.day_date, part
),
changed as (
    select
        t.zone, t.measure, t.bin_at, t.day_date, y.bin_at as against_at, t.value - y.value as change, t.n,
        y.n as against_n, t.motes
    from bin t
    join bin y
        on y.zone = t.zone and y.measure = t.measure and y.part = t.part and y.day_date = t.day_date - 1
    where t.n * 2 >= every_min and y.n * 2 >= every_min
),
usual as (
    select c.measure, statistics.robust_spread(c.change, 0) as spread from changed c group by c.measure
)
select
    c.zone, c.measure, c.bin_at as "at", c.against_at, c.change, c.change / u.spread as score, u.spread, c.motes, c.n,
    c.against_n
from changed c
join usual u on u.measure = c.measure
order by abs(score) desc nulls last, c.zone, c.measure, c.bin_at
