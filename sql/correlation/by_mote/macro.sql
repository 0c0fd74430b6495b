with chosen as (
    select series.measure_for(
        measure_a, ['crowd', 'light', 'sound', 'temperature', 'relative_humidity'], measure_b
    ) as name_a
),
named as (
    select
        c.name_a,
        series.measure_for(measure_b, ['temperature', 'relative_humidity', 'sound', 'light'], c.name_a) as name_b
    from chosen c
),
departure as materialized (
    select d.mote, d.measure, epoch(d.minute_at)::bigint // 60 as minute_number, d.value
    from series.mote_departure d
    cross join named n
    where d.measure in (n.name_a, n.name_b) and (zone is null or d.zone = zone)
),
total as materialized (
    select d.measure, d.minute_number, sum(d.value) as total, count(*) as motes
    from departure d
    group by d.measure, d.minute_number
),
pair as materialized (
    select
        a.minute_number, a.total as total_a, a.motes as motes_a, b.total as total_b, b.motes as motes_b
    from named n
    join total a on a.measure = n.name_a
    join total b on b.measure = n.name_b and b.minute_number = a.minute_number + lag_min
),
-- sums over all minutes once; what leaving a mote out changes is only at the minutes in which it spoke
touched as (
    select
        coalesce(a.mote, b.mote) as mote, coalesce(a.minute_number, b.minute_number) as minute_number,
        a.value as value_a, b.value as value_b
    from (
        select d.mote, d.minute_number, d.value from departure d join named n on n.name_a = d.measure
    ) a
    full join (
        select d.mote, d.minute_number - lag_min as minute_number, d.value
        from departure d
        join named n on n.name_b = d.measure
    ) b on b.mote = a.mote and b.minute_number = a.minute_number
),
difference as (
    select
        t.mote,
        p.total_a / p.motes_a as x, p.total_b / p.motes_b as y,
        case when t.value_a is null then p.total_a / p.motes_a
            when p.motes_a > 1 then (p.total_a - t.value_a) / (p.motes_a - 1) end as x_left,
        case when t.value_b is null then p.total_b / p.motes_b
            when p.motes_b > 1 then (p.total_b - t.value_b) / (p.motes_b - 1) end as y_left
    from touched t
    join pair p on p.minute_number = t.minute_number
),
moment as (
    select
        d.mote,
        sum(case when d.x_left is null or d.y_left is null then -1 else 0 end) as n,
        sum(coalesce(d.x_left, 0) * (d.y_left is not null)::int - d.x) as x,
        sum(coalesce(d.y_left, 0) * (d.x_left is not null)::int - d.y) as y,
        sum(coalesce(d.x_left * d.x_left, 0) * (d.y_left is not null)::int - d.x * d.x) as xx,
        sum(coalesce(d.y_left * d.y_left, 0) * (d.x_left is not null)::int - d.y * d.y) as yy,
        sum(coalesce(d.x_left * d.y_left, 0) - d.x * d.y) as xy
    from difference d
    group by d.mote
),
whole as (
    select
        count(*) as n, sum(p.total_a / p.motes_a) as x, sum(p.total_b / p.motes_b) as y,
        sum((p.total_a / p.motes_a) ** 2) as xx, sum((p.total_b / p.motes_b) ** 2) as yy,
        sum(p.total_a / p.motes_a * p.total_b / p.motes_b) as xy
    from pair p
),
without as (
    select
        m.mote, w.n + m.n as n,
        statistics.correlation_of_sums(w.n + m.n, w.x + m.x, w.y + m.y, w.xx + m.xx, w.yy + m.yy, w.xy + m.xy) as r_without,
        statistics.correlation_of_sums(w.n, w.x, w.y, w.xx, w.yy, w.xy) as r
    from moment m
    cross join whole w
)
select
    w.mote, w.r_without, w.r, w.r - w.r_without as influence, w.n::bigint as n,
    w.r_without is null or abs(w.r_without) < abs(w.r) / 2 or sign(w.r_without) <> sign(w.r) as carries_the_result,
    n.name_a as measure_a, n.name_b as measure_b
from without w
cross join named n
order by abs(influence) desc nulls first, w.mote
