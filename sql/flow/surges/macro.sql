with bin as materialized (
    select z.zone, any_value(z.level) as level, epoch(z.minute_at)::bigint // 60 // every_min as bin_number, sum(z.value) as steps
    from zone_minute z
    -- whoever builds up and cleans comes everywhere at once, and hides the way of those who come when the doors open
    semi join (select k.minute_at from series.clock k where k.is_open) k using (minute_at)
    where z.measure = series.crowd_measure(measure)
    group by z.zone, bin_number
),
bounds as (select min(b.bin_number) as first_number, max(b.bin_number) as last_number from bin b),
rise as (
    select
        b.zone, b.level, b.bin_number,
        ln(1 + b.steps) - case when lag(b.bin_number) over w = b.bin_number - 1 then lag(ln(1 + b.steps)) over w end as value
    from bin b
    window w as (partition by b.zone order by b.bin_number)
),
filled as (
    select
        s.zone, s.level, list(r.value order by g.bin_number) as xs
    from (select distinct b.zone, b.level from bin b) s
    -- from the second bin on: the first has no rise
    cross join (select unnest(range(b.first_number + 1, b.last_number + 1)) as bin_number from bounds b) g
    left join rise r on r.zone = s.zone and r.bin_number = g.bin_number
    group by s.zone, s.level
    having stddev_pop(r.value) > 1e-9
),
standardised as materialized (
    select
        f.zone, f.level, list_count(f.xs) as n, len(f.xs) as bins, statistics.autocorrelation(f.xs) as memory,
        list_transform(
            [{'middle': list_avg(f.xs), 'length': list_stddev_pop(f.xs) * sqrt(list_count(f.xs))}],
            lambda s: list_transform(f.xs, lambda v: coalesce((v - s.middle) / s.length, 0))
        )[1] as zs
    from filled f
),
-- each series shifted once, not once a pair; where it ends there are zeros, which add nothing to a product
shifted as materialized (
    select
        s.zone, k.k as steps_later,
        case
            when k.k >= 0 then list_resize(s.zs[k.k + 1:], s.bins, 0.0)
            else list_concat(list_resize([]::double[], -k.k, 0.0), s.zs[:s.bins + k.k])
        end as zs
    from standardised s
    cross join unnest(range(-(max_lag_min // every_min), max_lag_min // every_min + 1)) k(k)
    -- in the first minutes of a campaign there is nothing so much later
    where abs(k.k) < s.bins
),
paired as (
    select a.zone as zone_a, b.zone as zone_b, b.steps_later, list_dot_product(a.zs, b.zs) as r
    from standardised a
    join shifted b on a.zone < b.zone
),
best as (
    select
        p.zone_a, p.zone_b, max(p.r) as r, arg_max(p.steps_later, p.r) as steps_later,
        any_value(p.r) filter (p.steps_later = 0) as r_at_once
    from paired p
    group by p.zone_a, p.zone_b
),
followed as (
    select
        case when b.steps_later > 0 then b.zone_a else b.zone_b end as from_zone,
        case when b.steps_later > 0 then b.zone_b else b.zone_a end as to_zone,
        b.r, b.r_at_once, abs(b.steps_later) as steps_later
    from best b
    where b.r > 0 and b.steps_later <> 0
),
weighed as (
    select
        w.from_zone, a.level as from_level, w.to_zone, b.level as to_level, w.r, w.r_at_once, w.steps_later, least(a.n, b.n) as n,
        -- few busy hours among many quiet ones are worth only what the busy ones are
        statistics.effective_share(a.memory, b.memory) * least(a.n, b.n, 1 / nullif(list_dot_product(
            list_transform(a.zs[:a.bins - w.steps_later], lambda v: v * v),
            list_transform(b.zs[w.steps_later + 1:], lambda v: v * v)
        ), 0)) as n_effective
    from followed w
    join standardised a on a.zone = w.from_zone
    join standardised b on b.zone = w.to_zone
),
judged as (
    select
        w.*, z.x_m, z.y_m,
        -- to fill after another zone is to go with it better later than at once: the worse of the two counts
        least(1, greatest(
            statistics.t_two_sided_p(w.r * sqrt(w.n_effective), w.n_effective),
            statistics.t_two_sided_p(
                (atanh(least(w.r, 0.999999)) - atanh(greatest(w.r_at_once, -0.999999))) * sqrt(greatest(w.n_effective - 3, 0) / 2),
                w.n_effective
            )
        ) / 2 * (max_lag_min // every_min * 2 + 1)) as p_scan
    from weighed w
    left join zone z on z.zone = w.from_zone
),
adjusted as (
    select a.place, a.bh
    from statistics.adjusted_p(
        ps := (select list(j.p_scan order by j.from_zone, j.to_zone) from judged j)
    ) a
),
placed as (
    select j.*, row_number() over (order by j.from_zone, j.to_zone) as place from judged j
)
select
    p.from_zone, p.from_level, p.to_zone, p.to_level,
    p.steps_later * every_min as delay_min,
    p.r, p.r_at_once, p.n, p.n_effective, p.p_scan, a.bh as q_bh,
    sqrt((p.x_m - t.x_m) ** 2 + (p.y_m - t.y_m) ** 2) as distance_m
from placed p
join adjusted a on a.place = p.place
left join zone t on t.zone = p.to_zone
where a.bh <= q_most
order by p.r desc, p.from_zone, p.to_zone
