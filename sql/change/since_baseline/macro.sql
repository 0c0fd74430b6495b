with departure as materialized (
    select
        d.zone, d.level, d.measure, d.motes, d.value, k.minute_at, k.is_quiet, k.quiet_date, k.day_date,
        time_bucket(to_minutes(every_min), d.minute_at, c.starts_at) as bin_at
    from series.zone_departure d
    join series.clock k on k.minute_at = d.minute_at
    cross join campaign c
    where (measure is null or d.measure = measure) and (zone is null or d.zone = zone)
),
quiet as (
    select
        d.zone, d.measure, d.quiet_date,
        median(d.value) as middle,
        mad(d.value) as deviation,
        avg(d.value) as mean,
        count(*) as n,
        stddev_samp(d.value) as scatter
    from departure d
    where d.is_quiet
    group by d.zone, d.measure, d.quiet_date
),
-- how wide quiet minutes scatter round the middle of their own day, and how long they remember
quiet_scatter as (
    select
        e.zone, e.measure,
        statistics.robust_spread(e.value, 0) as spread
    from (
        select d.zone, d.measure, d.value - q.middle as value
        from departure d
        join quiet q on q.zone = d.zone and q.measure = d.measure and q.quiet_date = d.quiet_date
        where d.is_quiet
    ) e
    group by e.zone, e.measure
),
bin as (
    select
        d.zone, any_value(d.level) as level, d.measure, d.bin_at, any_value(d.day_date) as day_date,
        round(avg(d.motes), 2) as motes, median(d.value) as middle, count(*) as n, stddev_samp(d.value) as scatter,
        avg(d.value) as mean
    from departure d
    group by d.zone, d.measure, d.bin_at
),
stepped as materialized (
    select
        d.zone, d.measure, d.value - b.mean as rest,
        case when lag(d.minute_at) over minute_before = d.minute_at - interval 1 minute
            then lag(d.value - b.mean) over minute_before end as rest_before
    from departure d
    join bin b on b.zone = d.zone and b.measure = d.measure and b.bin_at = d.bin_at
    window minute_before as (partition by d.zone, d.measure order by d.minute_at)
),
memory as (
    select s.zone, s.measure, greatest(0, least(0.99, statistics.correlation(s.rest, s.rest_before))) as r1
    from stepped s
    where s.rest_before is not null
    group by s.zone, s.measure
),
-- what any zone does from minute to minute at any hour: quiet hours cannot be held to less
restless as (
    select s.measure, stddev_pop(s.rest - s.rest_before) / sqrt(2) as spread
    from stepped s
    group by s.measure
),
against as (
    select
        b.zone, b.level, b.measure, b.bin_at, b.motes, b.n, b.scatter, b.middle - q.middle as change,
        case when q.quiet_date = b.day_date then 'the same day' else 'the day before' end as baseline_of,
        q.quiet_date, q.n as baseline_n, q.scatter as baseline_scatter
    from bin b
    join quiet q
        on q.zone = b.zone and q.measure = b.measure and q.quiet_date in (b.day_date, b.day_date - 1)
    qualify row_number() over (partition by b.zone, b.measure, b.bin_at order by q.quiet_date desc) = 1
),
weighed as (
    select
        a.*, nullif(greatest(coalesce(s.spread, 0), e.spread), 0) as spread,
        a.n * (1 - coalesce(m.r1, 0)) / (1 + coalesce(m.r1, 0)) as n_effective,
        a.baseline_n * (1 - coalesce(m.r1, 0)) / (1 + coalesce(m.r1, 0)) as baseline_n_effective
    from against a
    left join memory m on m.zone = a.zone and m.measure = a.measure
    left join quiet_scatter s on s.zone = a.zone and s.measure = a.measure
    left join restless e on e.measure = a.measure
),
bounded as (
    select
        w.*,
        1.2533 * sqrt(w.scatter ** 2 / w.n_effective + w.baseline_scatter ** 2 / w.baseline_n_effective)
            * statistics.t_quantile(w.n_effective + w.baseline_n_effective - 2) as margin
    from weighed w
),
judged as (
    select
        b.*,
        b.change / b.spread as score,
        greatest(0, abs(b.change) - b.margin) / b.spread as sure
    from bounded b
),
ranked as (
    select j.*, row_number() over (partition by j.measure order by j.sure desc nulls last, j.zone, j.bin_at) as rank
    from judged j
)
select
    r.zone, r.level, r.measure, r.bin_at as "at", r.change,
    r.change - r.margin as low,
    r.change + r.margin as high,
    r.score, r.sure, r.spread, r.baseline_of, r.motes, r.n, r.n_effective, r.baseline_n
from ranked r
order by (r.rank - 1) // 3, r.sure desc nulls last, r.measure, r.zone, r.bin_at
