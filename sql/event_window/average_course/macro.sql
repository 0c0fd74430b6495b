with chosen as (
    select series.measure_for(measure, ['crowd', 'sound', 'light', 'temperature', 'relative_humidity']) as measure_name
),
level_of as materialized (
    select v.zone, v.minute_number, v.value
    from series.zone_or_venue(of_measure := (select c.measure_name from chosen c)) v
),
occurrence as (
    select o.event, o.zone, o.start_number, o.kind
    from event_window.occurrence o
    where (kind is null or o.kind = kind) and (zone is null or o.zone = zone)
),
laid as (
    select
        o.event, o.zone, o.kind, o.start_number, unnest(range(-before_min, after_min)) as minute_after_start
    from occurrence o
),
course as (
    select l.event, l.zone, l.kind, floor(l.minute_after_start / every_min)::bigint * every_min as offset_min, avg(v.value) as value
    from laid l
    join level_of v on v.zone = l.zone and v.minute_number = l.start_number + l.minute_after_start
    group by l.event, l.zone, l.kind, offset_min
),
start_level as (
    select c.event, c.zone, avg(c.value) as value from course c where c.offset_min < 0 group by c.event, c.zone
),
-- zones of one event hear the same of it, so that they count once
departure as (
    select c.kind, c.event, c.offset_min, avg(c.value - s.value) as value
    from course c
    join start_level s on s.event = c.event and s.zone = c.zone
    group by c.kind, c.event, c.offset_min
),
summed as (
    select d.kind, d.offset_min, avg(d.value) as value, count(*) as events, stddev_samp(d.value) as scatter
    from departure d
    group by d.kind, d.offset_min
)
select
    s.kind, s.offset_min, s.value,
    s.value - s.scatter / sqrt(s.events) * statistics.t_quantile(s.events - 1) as low,
    s.value + s.scatter / sqrt(s.events) * statistics.t_quantile(s.events - 1) as high,
    s.events, c.measure_name as measure
from summed s
cross join chosen c
order by s.kind, s.offset_min
