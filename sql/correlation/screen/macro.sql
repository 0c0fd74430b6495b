with bin as materialized (
    select d.zone, d.measure, epoch(d.minute_at)::bigint // (60 * every_min) as bin_number, sum(d.value) as total, count(*) as n
    from series.mote_departure d
    group by d.zone, d.measure, bin_number
),
placed as (
    select 'zone' as scope, b.zone as place, b.measure, b.bin_number, b.total, b.n from bin b
    union all
    select 'level', z.level, b.measure, b.bin_number, b.total, b.n from bin b join zone z on z.zone = b.zone
    union all
    select 'venue', '*', b.measure, b.bin_number, b.total, b.n from bin b
),
valued as (
    select p.scope, p.place, p.measure, p.bin_number, sum(p.total) / sum(p.n) as value
    from placed p
    group by p.scope, p.place, p.measure, p.bin_number
),
bounds as (
    select
        e.first_number, e.last_number, (e.last_number - e.first_number + 1) * every_min // 1440 as days,
        max_lag_min // every_min as lags
    from (select min(b.bin_number) as first_number, max(b.bin_number) as last_number from bin b) e
),
local as (
    select
        n.bin_number,
        hour(timezone(c.time_zone, n.bin_at)) * 60 + minute(timezone(c.time_zone, n.bin_at)) as minute_of_day
    from (
        select g.bin_number, make_timestamptz(g.bin_number * 60000000 * every_min) as bin_at
        from (select unnest(range(b.first_number, b.last_number + 1)) as bin_number from bounds b) g
    ) n
    cross join campaign c
),
without_cycle as (
    select
        v.scope, v.place, v.measure, v.bin_number,
        v.value - case when b.days >= 2
            then avg(v.value) over (partition by v.scope, v.place, v.measure, l.minute_of_day) else 0 end as value
    from valued v
    join local l on l.bin_number = v.bin_number
    cross join bounds b
),
filled as (
    select
        s.scope, s.place, s.measure,
        list(w.value order by l.bin_number) as xs
    from (select distinct v.scope, v.place, v.measure from valued v) s
    cross join local l
    left join without_cycle w
        on w.scope = s.scope and w.place = s.place and w.measure = s.measure and w.bin_number = l.bin_number
    group by s.scope, s.place, s.measure
    having stddev_pop(w.value) > 1e-9 and count(w.value) * 2 >= count(*)
),
standardised as materialized (
    select
        f.scope, f.place, f.measure, f.xs, len(f.xs) as n, statistics.autocorrelation(f.xs) as memory,
        list_count(f.xs) as held,
        list_transform(
            [{'middle': list_avg(f.xs), 'length': list_stddev_pop(f.xs) * sqrt(list_count(f.xs))}],
            lambda s: list_transform(f.xs, lambda v: coalesce((v - s.middle) / s.length, 0))
        )[1] as zs
    from filled f
),
storey as (
    select v.level, row_number() over (order by v.height_m, v.level) as storey
    from level v
    where v.level in (select s.place from standardised s where s.scope = 'level')
),
pair as (
    select a.scope, a.place as place_a, a.measure as measure_a, b.place as place_b, b.measure as measure_b
    from standardised a
    join standardised b on b.scope = a.scope and b.place = a.place and b.measure > a.measure
    where a.scope = 'zone' or (a.scope = 'venue' and (select count(distinct s.place) from standardised s where s.scope = 'zone') > 1)
    union all
    select 'level', a.place, a.measure, b.place, b.measure
    from storey lower
    join storey upper on upper.storey = lower.storey + 1
    join standardised a on a.scope = 'level' and a.place = lower.level
    join standardised b on b.scope = 'level' and b.place = upper.level
),
series_pair as materialized (
    select
        row_number() over (order by p.scope, p.place_a, p.measure_a, p.place_b, p.measure_b) as pair_number,
        p.scope, p.place_a, p.measure_a, p.place_b, p.measure_b,
        a.xs, b.xs as ys, a.zs, list_concat(b.zs, b.zs) as ring, a.n,
        least(a.held, b.held) * statistics.effective_share(a.memory, b.memory)
            * case when d.days >= 2 then 1 - 1.0 / d.days else 1 end as n_effective,
        d.lags
    from pair p
    join standardised a on a.scope = p.scope and a.place = p.place_a and a.measure = p.measure_a
    join standardised b on b.scope = p.scope and b.place = p.place_b and b.measure = p.measure_b
    cross join bounds d
),
turned as (
    select
        t.pair_number, t.turn, t.n, t.lags,
        abs(atanh(greatest(-0.999999999, least(0.999999999, t.r)))) * sqrt(greatest(t.n_effective - 3, 0.1)) as strength
    from (
        select
            s.pair_number, s.n, s.lags, s.n_effective, k.turn,
            list_dot_product(s.zs, s.ring[k.turn + 1:k.turn + s.n]) as r
        from series_pair s
        cross join unnest(range(s.n)) k(turn)
    ) t
),
best as (
    select
        t.pair_number, max(t.strength) as strength,
        arg_max(case when t.turn <= t.lags then t.turn else t.turn - t.n end, t.strength) as lag
    from turned t
    where t.turn <= t.lags or t.turn >= t.n - t.lags
    group by t.pair_number
),
chance as (
    select c.pair_number, c.strength
    from (
        select
            t.pair_number, t.turn, t.n, t.lags,
            max(t.strength) over (
                partition by t.pair_number order by t.turn
                range between max_lag_min // every_min preceding and max_lag_min // every_min following
            ) as strength
        from turned t
    ) c
    -- a window that holds a lag near 0 would hold the very coupling that is looked for
    where c.turn > 2 * c.lags and c.turn < c.n - 2 * c.lags
        -- and once the cycle of d days is off, a shift by a whole day shows it again, turned round and d - 1 times weaker
        and (
            (select d.days from bounds d) < 2
            or (c.turn % (1440 // every_min) > 2 * c.lags
                and c.turn % (1440 // every_min) < 1440 // every_min - 2 * c.lags)
        )
),
pooled as (
    select
        least(s.measure_a, s.measure_b) || '+' || greatest(s.measure_a, s.measure_b) as pool,
        e.pair_number, e.strength, e.is_chance
    from (
        select b.pair_number, b.strength, 0 as is_chance from best b
        union all
        select c.pair_number, c.strength, 1 from chance c
    ) e
    join series_pair s on s.pair_number = e.pair_number
),
ranked as (
    select
        p.pool, p.pair_number, p.strength, p.is_chance,
        (1 + sum(p.is_chance) over (partition by p.pool order by p.strength desc))
            / (1.0 + sum(p.is_chance) over (partition by p.pool)) as p
    from pooled p
),
threshold as (
    select p.pool, count(*) as chances, quantile_cont(p.strength, 0.95) as strength
    from pooled p
    where p.is_chance = 1
    group by p.pool
),
-- neighbouring windows share their maximum, so that ranks tell nothing far out: the tail is continued by its slope
tail as (
    select t.pool, t.chances, t.strength, 2 / avg(p.strength ** 2 - t.strength ** 2) as slope
    from threshold t
    join pooled p on p.pool = t.pool and p.is_chance = 1 and p.strength > t.strength
    group by t.pool, t.chances, t.strength
),
probable as (
    select
        r.pair_number, row_number() over (order by r.pair_number) as place,
        case
            when coalesce(t.chances, 0) < 19 * (2 * (max_lag_min // every_min) + 1) then null
            when r.strength <= t.strength or t.slope is null then r.p::double
            else greatest(1e-9, 0.05 * exp(-t.slope * (r.strength ** 2 - t.strength ** 2) / 2))
        end as p
    from ranked r
    left join tail t on t.pool = r.pool
    where r.is_chance = 0
),
adjusted as (
    select a.place, a.bh, a."by"
    from statistics.adjusted_p(ps := (select list(p.p order by p.place) from probable p)) a
),
exact as (
    select e.pair_number, statistics.correlation(e.both[1], e.both[2]) as r, count(*) as n
    from (
        select
            s.pair_number,
            unnest(list_zip(
                s.xs[greatest(0, -b.lag) + 1:s.n - greatest(0, b.lag)],
                s.ys[greatest(0, b.lag) + 1:s.n - greatest(0, -b.lag)]
            )) as both
        from series_pair s
        join best b on b.pair_number = s.pair_number
    ) e
    where e.both[1] is not null and e.both[2] is not null
    group by e.pair_number
)
select
    s.scope, s.place_a, s.measure_a, s.place_b, s.measure_b,
    b.lag * every_min as lag_min,
    e.r, e.n, s.n_effective,
    statistics.correlation_low(e.r, s.n_effective) as low,
    statistics.correlation_high(e.r, s.n_effective) as high,
    p.p, a.bh as q_bh, a."by" as q_by
from series_pair s
join best b on b.pair_number = s.pair_number
join probable p on p.pair_number = s.pair_number
left join adjusted a on a.place = p.place
left join exact e on e.pair_number = s.pair_number
order by p.p nulls last, s.measure_a = s.measure_b, abs(e.r) desc, s.pair_number
