-- means of five minutes: as exact as a shift can be seen, and a fifth of the work
with departure as materialized (
    from series.five_minutes(of_measure := measure, in_zone := zone, from_at := from_at, to_at := to_at)
),
-- without gaps, so that frames of rows are frames of time
filled as (
    select g.zone, g.measure, g.bin_number, d.value, d.minutes, d.highest, d.lowest
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
        d.zone, d.measure, d.bin_number, d.value, d.minutes, d.highest, d.lowest,
        sum(d.value * d.minutes) over past / sum(d.minutes) over past as before, count(d.value) over past * 5 as before_n,
        sum(d.value * d.minutes) over future / sum(d.minutes) over future as after, count(d.value) over future * 5 as after_n,
        avg(d.value) over quarter as quarter
    from filled d
    window
        past as (
            partition by d.zone, d.measure order by d.bin_number
            rows between window_min // 5 preceding and 1 preceding
        ),
        future as (
            partition by d.zone, d.measure order by d.bin_number
            rows between current row and window_min // 5 - 1 following
        ),
        quarter as (partition by d.zone, d.measure order by d.bin_number rows between current row and 2 following)
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
),
found as (
    select p.*
    from peak p
    where p.confidence >= confidence_least and (p.earlier is null or (p.bin_number - p.earlier) * 5 > window_min)
),
course as (
    select
        b.zone, b.measure, min(b.bin_number) as first_number,
        list(b.quarter order by b.bin_number) as quarters,
        list(b.minutes / 5 order by b.bin_number) as motes,
        list(b.highest order by b.bin_number) as highest,
        list(b.lowest order by b.bin_number) as lowest
    from beside b
    where (b.zone, b.measure) in (select (f.zone, f.measure) from found f)
    group by b.zone, b.measure
),
cut as (
    select
        f.* exclude (earlier), window_min // 5 as width,
        -- quarters of an hour from the shift on, and from it back
        c.quarters[f.bin_number - c.first_number + 1:] as later,
        list_reverse(c.quarters[:f.bin_number - c.first_number - 2]) as earlier,
        c.motes[f.bin_number - c.first_number + 1 - width:f.bin_number - c.first_number + width] as motes,
        c.highest[f.bin_number - c.first_number + 1 - width:f.bin_number - c.first_number + width] as highest,
        c.lowest[f.bin_number - c.first_number + 1 - width:f.bin_number - c.first_number + width] as lowest
    from found f
    join course c on c.zone = f.zone and c.measure = f.measure
),
followed as (
    select
        c.zone, c.measure, c.bin_number, c.size, c.before, c.after, c.confidence, c.score,
        -- a level lasts until a quarter of an hour is nearer to the other one
        list_position(list_transform(c.later, lambda v: (v - (c.before + c.after) / 2) * c.size < 0), true)::bigint * 5
            as lasted_min,
        list_position(list_transform(c.earlier, lambda v: (v - (c.before + c.after) / 2) * c.size > 0), true)::bigint * 5
            as stood_min,
        list_avg(c.motes) as motes,
        -- where all motes shift, the highest and the lowest shift as the mean does; where one does it alone, many times that
        greatest(
            abs(list_avg(c.highest[c.width + 1:]) - list_avg(c.highest[:c.width])),
            abs(list_avg(c.lowest[c.width + 1:]) - list_avg(c.lowest[:c.width]))
        ) / abs(c.size) as of_farthest
    from cut c
)
select
    f.zone, f.measure,
    make_timestamptz(f.bin_number * 300000000) as "at",
    f.size,
    f.before + l.value as before,
    f.after + l.value as after,
    f.confidence,
    f.score,
    f.lasted_min,
    case when f.motes > 1.5 then f.of_farthest > 0.6 * f.motes end as is_one_mote
from followed f
left join series.usual_level_of l on l.zone = f.zone and l.measure = f.measure
where least(f.lasted_min, f.stood_min) is null or least(f.lasted_min, f.stood_min) >= lasting_least_min
order by is_one_mote is true, abs(f.score) desc, f.zone, f.measure, f.bin_number
