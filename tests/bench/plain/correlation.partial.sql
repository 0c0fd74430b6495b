-- compared by n
-- footsteps and temperature of the venue once humidity is taken off both
with reference as materialized (
    select mote, measure, value, from_at, lead(from_at, 1, 'infinity') over (partition by mote, measure order by from_at) as to_at
    from mote_reference
    where measure in ('footsteps', 'temperature', 'relative_humidity')
),
x as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(m.value * 60 / covered_s - r.value) as x
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'footsteps' and zone is not null and m.value is not null and covered_s >= 30
    group by minute_at
),
y as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(m.value - r.value) as y
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'temperature' and zone is not null and m.value is not null
    group by minute_at
),
z as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(m.value - r.value) as z
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'relative_humidity' and zone is not null and m.value is not null
    group by minute_at
),
joined as materialized (select * from x join y using (minute_number) join z using (minute_number)),
slope as (
    select
        avg(x) as x_mean, avg(y) as y_mean, avg(z) as z_mean, regr_slope(x, z) as x_slope, regr_slope(y, z) as y_slope,
        corr(x, y) as r
    from joined
),
rest as materialized (
    select minute_number, x - x_mean - x_slope * (z - z_mean) as a, y - y_mean - y_slope * (z - z_mean) as b
    from joined
    cross join slope
),
-- both where both exist, on a grid of minutes: what is missing adds nothing to any product
grid as (
    select
        minute_number, a - avg(a) over () as a, b - avg(b) over () as b, a is not null as is_there
    from (select unnest(range(min(minute_number), max(minute_number) + 1)) as minute_number from rest)
    left join rest using (minute_number)
),
filled as materialized (
    select
        list(coalesce(a, 0) order by minute_number) as xs, list(coalesce(b, 0) order by minute_number) as ys,
        list(is_there::int::double order by minute_number) as ns, count(*) as length
    from grid
),
-- every lag up to 40, then every twentieth part further, with a straight line between
looked_at as (
    select *
    from filled
    cross join unnest(range(length // 5 + 1)) l(lag)
    where lag < 40 or lag = length // 5
        or floor(ln(greatest(1, lag) / 40) / ln(1.05)) > floor(ln(greatest(1, lag - 1) / 40) / ln(1.05))
),
product as (
    select
        lag, list_dot_product(ns[:length - lag], ns[lag + 1:]) as pairs,
        list_dot_product(xs[:length - lag], xs[lag + 1:]) / sqrt(nullif(pairs, 0)) as of_a,
        list_dot_product(ys[:length - lag], ys[lag + 1:]) / sqrt(nullif(pairs, 0)) as of_b
    from looked_at
),
memory as (
    select
        lag, lead(lag, 1, lag + 1) over by_lag as lag_after,
        coalesce(of_a, 0) as a, coalesce(of_b, 0) as b,
        lead(coalesce(of_a, 0), 1, 0) over by_lag as a_after, lead(coalesce(of_b, 0), 1, 0) over by_lag as b_after,
        first_value(of_a) over by_lag * first_value(of_b) over by_lag as at_once
    from product
    window by_lag as (order by lag)
),
kept as (
    select
        1 / greatest(1, 2 * sum(
            (a + (a_after - a) * step / (lag_after - lag)) * (b + (b_after - b) * step / (lag_after - lag)) / at_once
        ) - 1) as share
    from (select *, unnest(range(lag_after - lag)) as step from memory)
)
select
    any_value(r) as r, corr(a, b) as r_partial, count(*) as n, n * any_value(share) as n_effective,
    tanh(atanh(r_partial) - 1.959963984540054 / sqrt(n_effective - 1 - 3)) as low,
    tanh(atanh(r_partial) + 1.959963984540054 / sqrt(n_effective - 1 - 3)) as high
from rest
cross join slope
cross join kept
