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
cycle as (
    select max(e.days_averaged) as days from (select a.days_averaged from a union all select b.days_averaged from b) e
)
select
    r.lag_min, r.r, r.n, r.n_effective, r.low, r.high, r.p, r.p_scan, r.is_best, n.name_a as measure_a, n.name_b as measure_b,
    coalesce(
        r.note,
        case when remove_cycle and c.days is null then 'less than two whole days: the daily cycle is still in' end
    ) as note
from statistics.cross_correlation(
    minutes_a := (select list(a.minute_number order by a.minute_number) from a),
    values_a := (select list(a.value order by a.minute_number) from a),
    minutes_b := (select list(b.minute_number order by b.minute_number) from b),
    values_b := (select list(b.value order by b.minute_number) from b),
    max_lag_min := max_lag_min,
    by_method := method,
    share_kept := (select 1 - 1 / c.days from cycle c)
) r
cross join named n
cross join cycle c
order by r.lag_min
