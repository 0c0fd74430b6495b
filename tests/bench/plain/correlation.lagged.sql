-- compared by lag_min, n
-- footsteps of the venue against temperature at 61 lags, the daily cycle taken off, with the effective number of minutes
with reference as materialized (
    select mote, measure, value, from_at, lead(from_at, 1, 'infinity') over (partition by mote, measure order by from_at) as to_at
    from mote_reference
    where measure in ('footsteps', 'temperature')
),
departure as (
    select 'a' as side, minute_at, avg(m.value * 60 / covered_s - r.value) as value
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'footsteps' and zone is not null and m.value is not null and covered_s >= 30
    group by minute_at
    union all
    select 'b', minute_at, avg(m.value - r.value)
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'temperature' and zone is not null and m.value is not null
    group by minute_at
),
local as (
    select
        side, epoch_us(minute_at) // 60000000 as minute_number, value, timezone(time_zone, minute_at)::time as wall,
        count(*) over (partition by side, wall) as times,
        floor((max(minute_number) over (partition by side) - min(minute_number) over (partition by side) + 1) / 1440) as days
    from departure
    cross join campaign
),
prepared as (
    select side, minute_number, value - case when days >= 2 then avg(value) over (partition by side, wall) else 0 end as value, days
    from local
    qualify days < 2 or times >= 2
),
both_series as materialized (
    select a.minute_number, a.value as a, b.value as b, a.days
    from (select * from prepared where side = 'a') a
    full join (select * from prepared where side = 'b') b using (minute_number)
),
pair as materialized (select minute_number, a, b from both_series where a is not null and b is not null),
-- both where both exist, on a grid of minutes: what is missing adds nothing to any product
grid as (
    select
        minute_number, a - avg(a) over () as a, b - avg(b) over () as b, a is not null as is_there
    from (select unnest(range(min(minute_number), max(minute_number) + 1)) as minute_number from pair)
    left join pair using (minute_number)
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
),
at_lag as (
    select lag_min, corr(x.a, y.b) as r, count(*) as n
    from both_series x
    cross join range(-30, 31) l(lag_min)
    join both_series y on y.minute_number = x.minute_number + lag_min
    where x.a is not null and y.b is not null
    group by lag_min
)
select
    lag_min, r, n, n * share * (1 - 1 / days) as n_effective,
    tanh(atanh(r) - 1.959963984540054 / sqrt(n_effective - 3)) as low,
    tanh(atanh(r) + 1.959963984540054 / sqrt(n_effective - 3)) as high
from at_lag
cross join kept
cross join (select max(days) as days from both_series)
order by lag_min
