-- a list a span: minutes are taken out of it again where they are needed, which is cheaper than sorting them
with bin as materialized (
    select
        d.zone, any_value(d.level) as level, d.measure, time_bucket(to_minutes(every_min), d.minute_at, c.starts_at) as bin_at,
        list({'number': epoch_us(d.minute_at) // 60000000, 'value': d.value} order by d.minute_at) as minutes,
        round(avg(d.motes), 2) as motes, median(d.value) as middle, count(*) as n, stddev_samp(d.value) as scatter,
        avg(d.value) as mean
    from series.zone_departure d
    cross join campaign c
    where (measure is null or d.measure = measure) and (zone is null or d.zone = zone)
    group by d.zone, d.measure, bin_at
),
clock as materialized (
    select
        epoch_us(k.minute_at) // 60000000 as minute_number, k.day_date, k.quiet_date, k.is_quiet,
        time_bucket(to_minutes(every_min), k.minute_at, c.starts_at) as bin_at
    from series.clock k
    cross join campaign c
),
quiet_minute as materialized (
    select m.zone, m.measure, k.quiet_date, m.value
    from (
        select q.zone, q.measure, q.minute.value as value, q.minute.number as minute_number
        from (
            select b.zone, b.measure, unnest(b.minutes) as minute
            from bin b
            where b.bin_at in (select k.bin_at from clock k where k.is_quiet)
        ) q
    ) m
    join clock k on k.minute_number = m.minute_number
    where k.is_quiet
),
quiet as (
    select
        m.zone, m.measure, m.quiet_date, median(m.value) as middle, count(*) as n, stddev_samp(m.value) as scatter
    from quiet_minute m
    group by m.zone, m.measure, m.quiet_date
),
-- how wide quiet minutes scatter round the middle of their own day, and how long they remember
quiet_scatter as (
    select e.zone, e.measure, statistics.robust_spread(e.value, 0) as spread
    from (
        select m.zone, m.measure, m.value - q.middle as value
        from quiet_minute m
        join quiet q on q.zone = m.zone and q.measure = m.measure and q.quiet_date = m.quiet_date
    ) e
    group by e.zone, e.measure
),
-- memory shows over hours: within one, a slow series looks as if it forgot
block as (
    select
        b.zone, b.measure, b.bin_at, b.minutes,
        sum(b.mean * b.n) over stretch / sum(b.n) over stretch as mean, sum(b.n) over stretch as n
    from bin b
    cross join campaign c
    window stretch as (
        partition by b.zone, b.measure, time_bucket(to_minutes(greatest(120, every_min)), b.bin_at, c.starts_at)
    )
),
neighbours as (
    select
        p.zone, p.measure, p.block_n, p.minute.value - p.mean as rest,
        p.minute_after.value - coalesce(p.mean_after, p.mean) as rest_after
    from (
        select
            b.zone, b.measure, b.n as block_n, b.mean, null as mean_after,
            unnest(b.minutes) as minute, unnest(b.minutes[2:]) as minute_after
        from block b
        union all
        select
            b.zone, b.measure, b.n, b.mean, lead(b.mean) over in_order, b.minutes[-1], lead(b.minutes[1]) over in_order
        from block b
        window in_order as (partition by b.zone, b.measure order by b.bin_at)
    ) p
    where p.minute_after.number = p.minute.number + 1
),
remembered as materialized (
    select
        p.zone, p.measure, coalesce(statistics.correlation(p.rest, p.rest_after), 0) as r1, count(*) as n,
        avg(p.block_n) as block_n, sum(p.rest_after - p.rest) as steps, sum((p.rest_after - p.rest) ** 2) as squares
    from neighbours p
    group by p.zone, p.measure
),
-- inside a stretch of n minutes a memory looks shorter than it is, over many stretches together by (1 + 4 r1) / 2 n
memory as (
    select r.zone, r.measure, greatest(0, least(0.9995, r.r1 + (0.5 + 2 * r.r1) / r.block_n)) as r1
    from remembered r
),
-- what any zone does from minute to minute at any hour: quiet hours cannot be held to less
restless as (
    select
        r.measure, sqrt(greatest(0, sum(r.squares) / sum(r.n) - (sum(r.steps) / sum(r.n)) ** 2) / 2) as spread
    from remembered r
    group by r.measure
),
against as (
    select
        b.zone, b.level, b.measure, b.bin_at, b.motes, b.n, b.scatter, b.middle - q.middle as change,
        case when q.quiet_date = k.day_date then 'the same day' else 'the day before' end as baseline_of,
        q.n as baseline_n, q.scatter as baseline_scatter
    from bin b
    join clock k on k.minute_number = b.minutes[1].number
    join quiet q
        on q.zone = b.zone and q.measure = b.measure and q.quiet_date in (k.day_date, k.day_date - 1)
    qualify row_number() over (partition by b.zone, b.measure, b.bin_at order by q.quiet_date desc) = 1
),
weighed as (
    select
        a.* exclude (scatter, baseline_scatter),
        -- what stands still for an hour or a night may stir all the same
        coalesce(nullif(a.scatter, 0), e.spread) as scatter,
        coalesce(nullif(a.baseline_scatter, 0), e.spread) as baseline_scatter,
        nullif(greatest(coalesce(s.spread, 0), e.spread), 0) as spread,
        greatest(1, a.n * (1 - coalesce(m.r1, 0)) / (1 + coalesce(m.r1, 0))) as n_effective,
        greatest(1, a.baseline_n * (1 - coalesce(m.r1, 0)) / (1 + coalesce(m.r1, 0))) as baseline_n_effective
    from against a
    left join memory m on m.zone = a.zone and m.measure = a.measure
    left join quiet_scatter s on s.zone = a.zone and s.measure = a.measure
    left join restless e on e.measure = a.measure
),
bounded as (
    select
        w.*,
        1.2533 * sqrt(nullif(w.scatter ** 2 / w.n_effective + w.baseline_scatter ** 2 / w.baseline_n_effective, 0))
            * statistics.t_quantile(greatest(1, w.n_effective + w.baseline_n_effective - 2)) as margin
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
