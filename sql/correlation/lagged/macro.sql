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
a as materialized (
    select s.minute_number, s.value, s.days_averaged
    from series.prepared(
        of_measure := (select n.name_a from named n), in_zone := zone, cycle_removed := remove_cycle, taken_as := taken_as
    ) s
),
b as materialized (
    select s.minute_number, s.value, s.days_averaged
    from series.prepared(
        of_measure := (select n.name_b from named n), in_zone := zone, cycle_removed := remove_cycle, taken_as := taken_as
    ) s
),
shifted as (
    select l.lag_min, a.minute_number + l.lag_min as minute_number, a.value
    from a
    cross join (select unnest(range(-max_lag_min, max_lag_min + 1)) as lag_min) l
),
pair as (
    select s.lag_min, s.value as x, b.value as y from shifted s join b on b.minute_number = s.minute_number
),
scored as (
    select p.lag_min, p.x, p.y from pair p where method = 'pearson'
    union all
    select
        p.lag_min,
        rank() over (partition by p.lag_min order by p.x) + count(*) over (partition by p.lag_min, p.x) / 2.0,
        rank() over (partition by p.lag_min order by p.y) + count(*) over (partition by p.lag_min, p.y) / 2.0
    from pair p
    where method = 'spearman'
),
at_lag as (
    select s.lag_min, count(*) as n, statistics.correlation(s.x, s.y) as r
    from scored s
    group by s.lag_min
),
grid as (
    select g.minute_number, g.minute_number - min(g.minute_number) over () as step
    from (
        select unnest(range(min(e.minute_number), max(e.minute_number) + 1)) as minute_number
        from (select a.minute_number from a union all select b.minute_number from b) e
    ) g
),
both_exist as (
    select
        list(case when b.value is not null then a.value end order by g.minute_number) as xs,
        list(case when a.value is not null then b.value end order by g.minute_number) as ys
    from grid g
    left join a on a.minute_number = g.minute_number
    left join b on b.minute_number = g.minute_number
),
remembered as (
    select statistics.autocorrelation(e.xs) as of_a, statistics.autocorrelation(e.ys) as of_b from both_exist e
),
effective as (
    select
        statistics.effective_share(m.of_a, m.of_b) * coalesce((select 1 - 1 / max(a.days_averaged) from a), 1) as share,
        statistics.lag_smoothness(m.of_a, m.of_b) as smoothness
    from remembered m
),
judged as (
    select
        t.lag_min, t.n, t.r, t.n * e.share as n_effective, e.smoothness,
        statistics.correlation_p(t.r, t.n * e.share) as p
    from at_lag t
    cross join effective e
)
select
    l.lag_min,
    t.r,
    coalesce(t.n, 0) as n,
    t.n_effective,
    statistics.correlation_low(t.r, t.n_effective) as low,
    statistics.correlation_high(t.r, t.n_effective) as high,
    t.p,
    statistics.scan_p(t.p, t.r, t.n_effective, 2 * max_lag_min + 1, t.smoothness) as p_scan,
    t.r is not null and row_number() over (order by abs(t.r) desc nulls last, abs(l.lag_min), l.lag_min) = 1 as is_best,
    k.name_a as measure_a,
    k.name_b as measure_b,
    case
        when t.n is null then 'no minute in which both exist'
        when t.r is null then 'one of the two does not change'
        when t.p is null then 'too few independent minutes for a p'
        when remove_cycle and (select max(a.days_averaged) from a) is null
        then 'less than two whole days: the daily cycle stays in'
    end as note
from (select unnest(range(-max_lag_min, max_lag_min + 1)) as lag_min) l
cross join named k
left join judged t on t.lag_min = l.lag_min
order by l.lag_min
