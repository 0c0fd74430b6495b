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
effective as (
    select
        statistics.effective_share(e.xs, e.ys)
            * coalesce((select 1 - 1 / max(a.days_averaged) from a), 1) as share
    from both_exist e
),
-- one series turned round against the other: what chance does with the same memory, and what stands at each lag
standing as (
    select
        g.step, (select count(*) from grid) as n,
        case when method = 'pearson' then a.value - avg(a.value) over ()
            else percent_rank() over (order by a.value) - 0.5 end as x
    from a
    join grid g on g.minute_number = a.minute_number
),
turning as (
    select
        g.step,
        case when method = 'pearson' then b.value - avg(b.value) over ()
            else percent_rank() over (order by b.value) - 0.5 end as y
    from b
    join grid g on g.minute_number = b.minute_number
),
turned as (
    select (t.step - s.step + s.n) % s.n as turn, any_value(s.n) as n, abs(sum(s.x * t.y)) / sqrt(count(*)) as strength
    from standing s
    cross join turning t
    group by turn
),
chance as (
    select c.strength
    from (
        select
            t.turn, t.n,
            max(t.strength) over (order by t.turn range between max_lag_min preceding and max_lag_min following)
                as strength
        from turned t
    ) c
    where c.turn between max_lag_min + 1 and c.n - max_lag_min - 1
),
scan as (
    select
        o.lag_min,
        case when count(c.strength) >= 19
            then (1 + count(*) filter (c.strength >= o.strength)) / (1.0 + count(c.strength)) end as p_scan
    from (
        select case when t.turn <= max_lag_min then t.turn else t.turn - t.n end as lag_min, t.strength
        from turned t
        where t.turn <= max_lag_min or t.turn >= t.n - max_lag_min
    ) o
    left join chance c on true
    group by o.lag_min
)
select
    l.lag_min,
    t.r,
    coalesce(t.n, 0) as n,
    t.n * e.share as n_effective,
    statistics.correlation_low(t.r, t.n * e.share) as low,
    statistics.correlation_high(t.r, t.n * e.share) as high,
    statistics.correlation_p(t.r, t.n * e.share) as p,
    case when t.r is not null then s.p_scan end as p_scan,
    t.r is not null and row_number() over (order by abs(t.r) desc nulls last, abs(l.lag_min), l.lag_min) = 1 as is_best,
    k.name_a as measure_a,
    k.name_b as measure_b,
    case
        when t.n is null then 'no minute in which both exist'
        when t.r is null then 'one of the two does not change'
        when remove_cycle and (select max(a.days_averaged) from a) is null
        then 'less than two whole days: the daily cycle stays in'
        when s.p_scan is null then 'too short for the lags tried: no p_scan'
    end as note
from (select unnest(range(-max_lag_min, max_lag_min + 1)) as lag_min) l
cross join named k
cross join effective e
left join at_lag t on t.lag_min = l.lag_min
left join scan s on s.lag_min = l.lag_min
order by l.lag_min
