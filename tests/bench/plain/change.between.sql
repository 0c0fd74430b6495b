-- compared by zone, measure, n_a, n_b
-- the last hour against the one before, each mote from its own middle, with an interval that knows the memory of minutes
with reference as (
    select
        p.mote, p.measure, p.value, kind = 'count' as is_count, from_at,
        lead(from_at, 1, 'infinity') over (partition by p.mote, p.measure order by from_at) as to_at
    from mote_reference p
    join measure k on k.measure = p.measure
),
span as (select max(minute_at) + interval 1 minute as end_at from zone_minute),
minute as (
    select
        zone, m.measure, minute_at, minute_at >= (select end_at - interval 1 hour from span) as is_b,
        avg(case when is_count then m.value * 60 / covered_s else m.value end - r.value) as value
    from mote_minute m
    join reference r on r.mote = m.mote and r.measure = m.measure and minute_at >= from_at and minute_at < to_at
    where minute_at >= (select end_at - interval 2 hour from span) and minute_at < (select end_at from span)
        and zone is not null and m.value is not null and (not is_count or covered_s >= 30)
    group by all
),
rested as (
    select
        *, value - avg(value) over (partition by zone, measure, is_b) as rest,
        lag(value) over (partition by zone, measure, is_b order by minute_at) - avg(value) over (partition by zone, measure, is_b)
            as rest_before,
        lag(minute_at) over (partition by zone, measure, is_b order by minute_at) = minute_at - interval 1 minute as is_next
    from minute
),
summed as (
    select
        zone, measure, avg(value) filter (not is_b) as mean_a, avg(value) filter (is_b) as mean_b,
        var_samp(value) filter (not is_b) as var_a, var_samp(value) filter (is_b) as var_b,
        count(*) filter (not is_b) as n_a, count(*) filter (is_b) as n_b,
        coalesce(case when stddev_pop(rest) filter (is_next) > 1e-12 * max(abs(rest)) filter (is_next)
            and stddev_pop(rest_before) filter (is_next) > 1e-12 * max(abs(rest_before)) filter (is_next)
            then corr(rest, rest_before) filter (is_next) end, 0) as r,
        count(*) filter (is_next) as pairs
    from rested
    group by all
    having n_a > 1 and n_b > 1
),
weighed as (
    select
        *, mean_b - mean_a as change, greatest(0, least(0.9995, r + (1 + 4 * r) * 2 / pairs)) as memory,
        greatest(1, n_a * (1 - memory) / (1 + memory)) as effective_a,
        greatest(1, n_b * (1 - memory) / (1 + memory)) as effective_b,
        effective_a + effective_b as n_effective, greatest(1, n_effective - 2) as df,
        sqrt(var_a / effective_a + var_b / effective_b) * case
            when df >= 5 then 1.959963984540054 + 2.372271230 / df + 2.822498616 / df ** 2 + 2.555852225 / df ** 3
                + 1.589536442 / df ** 4
            else [12.706204736, 4.302652730, 3.182446305, 2.776445105][floor(df)::integer]
        end as margin
    from summed
)
select zone, measure, change, change - margin as low, change + margin as high, n_a, n_b, n_effective
from weighed
order by abs(change / margin) desc
