with "end" as (
    select min(z.minute_at) as start_at, max(z.minute_at) + interval 1 minute as end_at from zone_minute z
),
"window" as (
    select
        coalesce(cast(from_b as timestamptz), e.end_at - interval 1 hour) as b_from_at,
        coalesce(cast(to_b as timestamptz), e.end_at) as b_to_at,
        coalesce(cast(from_a as timestamptz), cast(from_b as timestamptz) - interval 1 hour, e.end_at - interval 2 hour)
            as a_from_at,
        coalesce(cast(to_a as timestamptz), cast(from_b as timestamptz), e.end_at - interval 1 hour) as a_to_at
    from "end" e
),
-- minute by minute, so that only the hours of the two windows are read
laid as materialized (
    select p.part, unnest(range(
        time_bucket(interval 1 minute, greatest(p.from_at, e.start_at) + interval '59.999999' second),
        least(p.to_at, e.end_at),
        interval 1 minute
    )) as minute_at
    from (
        select 'a' as part, w.a_from_at as from_at, w.a_to_at as to_at from "window" w
        union all
        select 'b', w.b_from_at, w.b_to_at from "window" w
    ) p
    cross join "end" e
),
-- series.zone_departure of these minutes: asked through the view, DuckDB may begin to read before it knows them
part as (
    select d.zone, z.level, d.measure, d.minute_at, d.motes, d.value, d.part
    from (
        select m.zone, m.measure, l.part, m.minute_at, count(*)::integer as motes, avg(m.value) as value
        from series.mote_departure m
        join laid l on l.minute_at = m.minute_at
        where measure is null or m.measure = measure
        group by m.zone, m.measure, l.part, m.minute_at
    ) d
    left join zone z on z.zone = d.zone
),
centred as (
    select
        p.zone, p.level, p.measure, p.part, p.motes, p.value, p.minute_at,
        p.value - avg(p.value) over (partition by p.zone, p.measure, p.part) as rest
    from part p
),
-- inside n minutes a memory looks shorter than it is, by (1 + 4 r1) / n
memory as (
    select s.zone, s.measure, greatest(0, least(0.9995, s.r1 + (1 + 4 * s.r1) * 2 / s.n)) as r1
    from (
        select d.zone, d.measure, coalesce(statistics.correlation(d.rest, d.rest_before), 0) as r1, count(*) as n
        from (
            select
                c.zone, c.measure, c.rest,
                case when lag(c.minute_at) over w = c.minute_at - interval 1 minute then lag(c.rest) over w end as rest_before
            from centred c
            window w as (partition by c.zone, c.measure, c.part order by c.minute_at)
        ) d
        where d.rest_before is not null
        group by d.zone, d.measure
    ) s
),
summed as (
    select
        c.zone, any_value(c.level) as level, c.measure,
        avg(c.value) filter (c.part = 'a') as mean_a, avg(c.value) filter (c.part = 'b') as mean_b,
        var_samp(c.value) filter (c.part = 'a') as var_a, var_samp(c.value) filter (c.part = 'b') as var_b,
        count(*) filter (c.part = 'a') as n_a, count(*) filter (c.part = 'b') as n_b
    from centred c
    group by c.zone, c.measure
),
weighed as (
    select
        s.*,
        greatest(1, s.n_a * (1 - coalesce(m.r1, 0)) / (1 + coalesce(m.r1, 0))) as effective_a,
        greatest(1, s.n_b * (1 - coalesce(m.r1, 0)) / (1 + coalesce(m.r1, 0))) as effective_b
    from summed s
    left join memory m on m.zone = s.zone and m.measure = s.measure
    where s.n_a > 1 and s.n_b > 1
),
judged as (
    select
        w.*, w.mean_b - w.mean_a as change, sqrt(w.var_a / w.effective_a + w.var_b / w.effective_b) as error,
        greatest(1, w.effective_a + w.effective_b - 2) as df
    from weighed w
)
select
    j.zone, j.level, j.measure,
    j.mean_a + u.value as before,
    j.mean_b + u.value as after,
    j.change,
    j.change - j.error * statistics.t_quantile(j.df) as low,
    j.change + j.error * statistics.t_quantile(j.df) as high,
    j.change / nullif(j.error, 0) as score,
    statistics.t_two_sided_p(j.change / nullif(j.error, 0), j.df) as p,
    j.n_a, j.n_b,
    j.effective_a + j.effective_b as n_effective
from judged j
left join series.usual_level_of u on u.zone = j.zone and u.measure = j.measure
-- what stands still in both windows, but not at the same value, moved for sure
order by case when j.error > 0 then abs(score) when j.change <> 0 then 'infinity'::double end desc nulls last, j.zone, j.measure
