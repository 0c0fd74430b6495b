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
a as (
    select s.minute_number, s.value
    from series.prepared(of_measure := (select n.name_a from named n), in_zone := zone) s
),
b as (
    select s.minute_number, s.value
    from series.prepared(of_measure := (select n.name_b from named n), in_zone := zone) s
),
pair as materialized (
    select a.minute_number, a.value as x, b.value as y
    from a
    join b on b.minute_number = a.minute_number + lag_min
),
span as (
    select
        epoch(time_bucket(to_minutes(every_min), make_timestamptz(p.minute_number * 60000000), c.starts_at))::bigint // 60
            as from_number,
        p.minute_number, p.x, p.y
    from pair p
    cross join campaign c
),
filled as (
    select
        g.from_number,
        list(s.x order by g.minute_number) as xs,
        list(s.y order by g.minute_number) as ys,
        count(s.x) as n,
        statistics.correlation(s.x, s.y) as r
    from (
        select d.from_number, unnest(range(d.from_number, d.from_number + every_min)) as minute_number
        from (select distinct s.from_number from span s) d
    ) g
    left join span s on s.minute_number = g.minute_number
    group by g.from_number
),
weighed as (
    select
        f.from_number, f.n, f.r,
        case when f.r is not null
            then f.n * statistics.effective_share(statistics.autocorrelation(f.xs), statistics.autocorrelation(f.ys))
        end as n_effective
    from filled f
    where f.n * 2 >= every_min
),
whole as (
    select statistics.correlation(p.x, p.y) as r from pair p
)
select
    make_timestamptz(w.from_number * 60000000) as "at",
    w.r, w.n, w.n_effective,
    statistics.correlation_low(w.r, w.n_effective) as low,
    statistics.correlation_high(w.r, w.n_effective) as high,
    e.r as whole_r,
    sign(w.r) = sign(e.r) as has_same_sign,
    n.name_a as measure_a, n.name_b as measure_b
from weighed w
cross join whole e
cross join named n
order by w.from_number
