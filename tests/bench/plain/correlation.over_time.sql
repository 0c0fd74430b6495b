-- compared by at, n
-- footsteps and temperature of the venue, four hours by four hours
with reference as materialized (
    select mote, measure, value, from_at, lead(from_at, 1, 'infinity') over (partition by mote, measure order by from_at) as to_at
    from mote_reference
    where measure in ('footsteps', 'temperature')
),
a as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(m.value * 60 / covered_s - r.value) as a
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'footsteps' and zone is not null and m.value is not null and covered_s >= 30
    group by minute_at
),
b as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(m.value - r.value) as b
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'temperature' and zone is not null and m.value is not null
    group by minute_at
),
pair as (
    select
        minute_number, a, b,
        epoch_us(time_bucket(interval '4 hours', make_timestamptz(minute_number * 60000000), starts_at)) // 60000000 as from_number
    from a
    join b using (minute_number)
    cross join campaign
),
-- on a grid of minutes: what is missing adds nothing to any product
filled as materialized (
    select
        from_number, list(coalesce(a - a_mean, 0) order by minute_number) as xs,
        list(coalesce(b - b_mean, 0) order by minute_number) as ys,
        list((a is not null)::int::double order by minute_number) as ns, count(*) as length, count(a) as n, corr(a, b) as r
    from (
        select from_number, avg(a) as a_mean, avg(b) as b_mean, unnest(range(from_number, from_number + 240)) as minute_number
        from pair
        group by from_number
        having count(*) * 2 >= 240
    )
    left join pair using (from_number, minute_number)
    group by from_number
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
        from_number, lag, list_dot_product(ns[:length - lag], ns[lag + 1:]) as pairs,
        list_dot_product(xs[:length - lag], xs[lag + 1:]) / sqrt(nullif(pairs, 0)) as of_a,
        list_dot_product(ys[:length - lag], ys[lag + 1:]) / sqrt(nullif(pairs, 0)) as of_b
    from looked_at
),
memory as (
    select
        from_number, lag, lead(lag, 1, lag + 1) over by_lag as lag_after, coalesce(of_a, 0) as a, coalesce(of_b, 0) as b,
        lead(coalesce(of_a, 0), 1, 0) over by_lag as a_after, lead(coalesce(of_b, 0), 1, 0) over by_lag as b_after,
        first_value(of_a) over by_lag * first_value(of_b) over by_lag as at_once
    from product
    window by_lag as (partition by from_number order by lag)
),
kept as (
    select
        from_number,
        1 / greatest(1, 2 * sum(
            (a + (a_after - a) * step / (lag_after - lag)) * (b + (b_after - b) * step / (lag_after - lag)) / at_once
        ) - 1) as share
    from (select *, unnest(range(lag_after - lag)) as step from memory)
    group by from_number
)
select
    make_timestamptz(from_number * 60000000) as "at", r, n, n * share as n_effective,
    tanh(atanh(r) - 1.959963984540054 / sqrt(n_effective - 3)) as low,
    tanh(atanh(r) + 1.959963984540054 / sqrt(n_effective - 3)) as high,
    (select corr(a, b) from pair) as whole_r
from filled
join kept using (from_number)
order by from_number
