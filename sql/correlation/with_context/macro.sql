with named as (
    select
        series.measure_for(measure, ['crowd', 'sound', 'temperature', 'relative_humidity', 'light']) as measure_name,
        coalesce(
            stream,
            (
                select p.stream from context_point p where p.value is not null
                group by p.stream having count(*) >= 3 order by p.stream limit 1
            )
        ) as stream_name
),
point as (
    select
        epoch(p."at")::bigint // 60 as minute_number, avg(p.value) as value
    from context_point p
    join named n on n.stream_name = p.stream
    where p.value is not null and (zone is null or p.zone is null or p.zone = zone)
    group by minute_number
),
held as (
    select
        p.minute_number as from_number, p.value,
        least(
            lead(p.minute_number, 1, p.minute_number + coalesce(s.max_age_min, 60)::bigint) over (order by p.minute_number),
            p.minute_number + greatest(1, coalesce(s.max_age_min, 60))::bigint
        ) as to_number
    from point p
    cross join named n
    left join context_stream s on s.stream = n.stream_name
),
outside as materialized (
    select unnest(range(h.from_number, h.to_number)) as minute_number, h.value from held h
),
inside as materialized (
    select s.minute_number, s.value, s.days_averaged
    from series.prepared(of_measure := (select n.measure_name from named n), in_zone := zone) s
)
select
    r.lag_min, r.r, r.n, r.n_effective, r.low, r.high, r.p, r.p_scan, r.is_best,
    n.stream_name as stream, n.measure_name as measure,
    case when n.stream_name is null then 'no stream with values' else r.note end as note
from statistics.cross_correlation(
    minutes_a := (select list(o.minute_number order by o.minute_number) from outside o),
    values_a := (select list(o.value order by o.minute_number) from outside o),
    minutes_b := (select list(i.minute_number order by i.minute_number) from inside i),
    values_b := (select list(i.value order by i.minute_number) from inside i),
    max_lag_min := max_lag_min
) r
cross join named n
order by r.lag_min
