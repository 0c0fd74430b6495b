-- compared by lag_min, n
-- the crowd of the venue against a stream from outside at 61 lags, its last value held for as long as the stream says
with reference as materialized (
    select mote, measure, value, from_at, lead(from_at, 1, 'infinity') over (partition by mote, measure order by from_at) as to_at
    from mote_reference
    where measure in ('footsteps')
),
b as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(m.value * 60 / covered_s - r.value) as b
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where m.measure = 'footsteps' and zone is not null and m.value is not null and covered_s >= 30
    group by minute_at
),
held as (
    select
        point.minute_number as from_number, a,
        least(
            lead(from_number, 1, from_number + coalesce(max_age_min, 60)::bigint) over (order by from_number),
            from_number + greatest(1, coalesce(max_age_min, 60))::bigint
        ) as to_number
    from (
        select stream, epoch_us("at") // 60000000 as minute_number, avg(value) as a
        from context_point
        where value is not null and stream = (
            select min(stream) from (select stream from context_point where value is not null group by all having count(*) >= 3)
        )
        group by all
    ) as point
    left join context_stream using (stream)
),
outside as materialized (select unnest(range(from_number, to_number)) as minute_number, a from held),
inside as materialized (select * from b),
pair as materialized (select minute_number, a, b from outside join inside using (minute_number)),
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
    select lag_min, corr(a, b) as r, count(*) as n
    from outside
    cross join range(-30, 31) l(lag_min)
    join inside on inside.minute_number = outside.minute_number + lag_min
    group by lag_min
)
select
    lag_min, r, n, n * share as n_effective,
    tanh(atanh(r) - 1.959963984540054 / sqrt(n_effective - 3)) as low,
    tanh(atanh(r) + 1.959963984540054 / sqrt(n_effective - 3)) as high
from at_lag
cross join kept
order by lag_min
