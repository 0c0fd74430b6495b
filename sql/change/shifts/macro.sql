with departure as materialized (
    -- means of five minutes: as exact as a shift can be seen, and a fifth of the work
    select
        d.zone, d.measure, epoch_us(d.minute_at) // 300000000 as bin_number,
        avg(d.value) as value, count(*) as minutes
    from series.mote_departure d
    where (measure is null or d.measure = measure) and (zone is null or d.zone = zone)
    group by d.zone, d.measure, bin_number
),
-- without gaps, so that frames of rows are frames of time
filled as (
    select g.zone, g.measure, g.bin_number, d.value, d.minutes
    from (
        select s.zone, s.measure, unnest(range(s.first_number, s.last_number + 1)) as bin_number
        from (
            select d.zone, d.measure, min(d.bin_number) as first_number, max(d.bin_number) as last_number
            from departure d
            group by d.zone, d.measure
        ) s
    ) g
    left join departure d on d.zone = g.zone and d.measure = g.measure and d.bin_number = g.bin_number
),
beside as (
    select
        d.zone, d.measure, d.bin_number, d.value,
        sum(d.value * d.minutes) over past / sum(d.minutes) over past as before, count(d.value) over past * 5 as before_n,
        sum(d.value * d.minutes) over future / sum(d.minutes) over future as after, count(d.value) over future * 5 as after_n
    from filled d
    window
        past as (
            partition by d.zone, d.measure order by d.bin_number
            rows between window_min // 5 preceding and 1 preceding
        ),
        future as (
            partition by d.zone, d.measure order by d.bin_number
            rows between current row and window_min // 5 - 1 following
        )
),
jump as (
    select b.zone, b.measure, b.bin_number, b.before, b.after, b.after - b.before as size
    from beside b
    where b.value is not null and b.before_n * 2 >= window_min and b.after_n * 2 >= window_min
),
usual as (
    select
        j.zone, j.measure,
        statistics.robust_spread(j.size, 0) as spread,
        greatest(2.0, count(*) * 5 / any_value(window_min)) as windows
    from jump j
    group by j.zone, j.measure
),
scored as (
    select
        j.zone, j.measure, j.bin_number, j.before, j.after, j.size, j.size / u.spread as score, u.windows,
        max(abs(j.size)) over (
            partition by j.zone, j.measure order by j.bin_number
            range between window_min // 5 preceding and window_min // 5 following
        ) as largest
    from jump j
    join usual u on u.zone = j.zone and u.measure = j.measure
    where u.spread > 0
),
peak as (
    select
        s.zone, s.measure, s.bin_number, s.before, s.after, s.size, s.score,
        statistics.moving_sum_confidence(abs(s.score), s.windows) as confidence,
        lag(s.bin_number) over (partition by s.zone, s.measure order by s.bin_number) as earlier
    from scored s
    where abs(s.size) = s.largest
)
select
    p.zone, p.measure,
    make_timestamptz(p.bin_number * 300000000) as "at",
    p.size,
    p.before + l.value as before,
    p.after + l.value as after,
    p.confidence,
    p.score
from peak p
left join series.usual_level_of l on l.zone = p.zone and l.measure = p.measure
where p.confidence >= confidence_least and (p.earlier is null or (p.bin_number - p.earlier) * 5 > window_min)
order by abs(p.score) desc, p.zone, p.measure, p.bin_number
