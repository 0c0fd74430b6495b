with chosen as (
    select series.measure_for(
        measure_a, ['crowd', 'light', 'sound', 'temperature', 'relative_humidity'], measure_b
    ) as name_a
),
second as (
    select
        c.name_a,
        series.measure_for(measure_b, ['temperature', 'relative_humidity', 'sound', 'light'], c.name_a) as name_b
    from chosen c
),
named as (
    select
        s.name_a, s.name_b,
        coalesce(given_1, (
            select m.measure from measure m
            where m.measure not in (s.name_a, s.name_b)
            order by coalesce(list_position(['relative_humidity', 'temperature', 'light', 'sound'], m.role), 1000), m.measure
            limit 1
        )) as name_1
    from second s
),
a as (
    select s.minute_number, s.value
    from series.prepared(of_measure := (select n.name_a from named n), in_zone := zone, cycle_removed := remove_cycle) s
),
b as (
    select s.minute_number, s.value
    from series.prepared(of_measure := (select n.name_b from named n), in_zone := zone, cycle_removed := remove_cycle) s
),
first_given as (
    select s.minute_number, s.value
    from series.prepared(of_measure := (select n.name_1 from named n), in_zone := zone, cycle_removed := remove_cycle) s
),
second_given as (
    select s.minute_number, s.value
    from series.prepared(of_measure := given_2, in_zone := zone, cycle_removed := remove_cycle) s
),
joined as materialized (
    select a.minute_number, a.value as x, b.value as y, f.value as z, coalesce(s.value, 0) as w
    from a
    join b on b.minute_number = a.minute_number + lag_min
    join first_given f on f.minute_number = a.minute_number
    left join second_given s on s.minute_number = a.minute_number
    where given_2 is null or s.value is not null
),
-- what the first given measure explains is taken off the other three, then what is left of the second
without_first as (
    select
        j.minute_number, j.x as whole_x, j.y as whole_y,
        statistics.residual(j.x, j.z) as x, statistics.residual(j.y, j.z) as y, statistics.residual(j.w, j.z) as w
    from joined j
),
without_both as materialized (
    select
        f.minute_number, f.whole_x, f.whole_y, statistics.residual(f.x, f.w) as x, statistics.residual(f.y, f.w) as y
    from without_first f
),
filled as (
    select list(r.x order by g.minute_number) as xs, list(r.y order by g.minute_number) as ys
    from (
        select unnest(range(min(b.minute_number), max(b.minute_number) + 1)) as minute_number from without_both b
    ) g
    left join without_both r on r.minute_number = g.minute_number
),
summed as (
    select
        statistics.correlation(b.whole_x, b.whole_y) as r, statistics.correlation(b.x, b.y) as r_partial, count(*) as n
    from without_both b
),
weighed as (
    select
        s.r, s.r_partial, s.n,
        s.n * (
            select statistics.effective_share(statistics.autocorrelation(f.xs), statistics.autocorrelation(f.ys))
            from filled f
        ) as n_effective,
        case when given_2 is null then 1 else 2 end as given
    from summed s
)
select
    n.name_a as measure_a, n.name_b as measure_b, n.name_1 as given_1, cast(given_2 as varchar) as given_2,
    w.r, w.r_partial, w.n, w.n_effective,
    statistics.correlation_low(w.r_partial, w.n_effective - w.given) as low,
    statistics.correlation_high(w.r_partial, w.n_effective - w.given) as high,
    statistics.correlation_p(w.r_partial, w.n_effective - w.given) as p
from weighed w
cross join named n
