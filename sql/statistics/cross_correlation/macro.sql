with a as materialized (
    select unnest(minutes_a) as minute_number, unnest(values_a) as value
),
b as materialized (
    select unnest(minutes_b) as minute_number, unnest(values_b) as value
),
shifted as (
    select l.lag_min, a.minute_number + l.lag_min as minute_number, a.value
    from a
    cross join (select unnest(range(-max_lag_min, max_lag_min + 1)) as lag_min) l
),
pair as (
    select s.lag_min, s.value as x, b.value as y from shifted s join b on b.minute_number = s.minute_number
),
scored as (
    select p.lag_min, p.x, p.y from pair p where by_method = 'pearson'
    union all
    select
        p.lag_min,
        rank() over (partition by p.lag_min order by p.x) + count(*) over (partition by p.lag_min, p.x) / 2.0,
        rank() over (partition by p.lag_min order by p.y) + count(*) over (partition by p.lag_min, p.y) / 2.0
    from pair p
    where by_method = 'spearman'
),
at_lag as (
    select s.lag_min, count(*) as n, statistics.correlation(s.x, s.y) as r
    from scored s
    group by s.lag_min
),
grid as (
    select unnest(range(min(e.minute_number), max(e.minute_number) + 1)) as minute_number
    from (select a.minute_number from a join b on b.minute_number = a.minute_number) e
),
both_exist as (
    select
        list(case when b.value is not null then a.value end order by g.minute_number) as xs,
        list(case when a.value is not null then b.value end order by g.minute_number) as ys
    from grid g
    left join a on a.minute_number = g.minute_number
    left join b on b.minute_number = g.minute_number
),
remembered as materialized (
    select statistics.autocorrelation(e.xs) as of_a, statistics.autocorrelation(e.ys) as of_b from both_exist e
),
judged as (
    select
        t.lag_min, t.n, t.r,
        case when t.r is not null
            then t.n * statistics.effective_share(m.of_a, m.of_b) * coalesce(share_kept, 1) end as n_effective
    from at_lag t
    cross join remembered m
),
-- step by step, because a macro writes its arguments out wherever it uses them
probable as (
    select j.*, statistics.correlation_p(j.r, j.n_effective) as p from judged j
),
-- in quarters of a decade, as statistics.separate_lags counts them
stepped as (
    select p.*, least(48, -4 * log10(greatest(p.p, 1e-300))) as step from probable p
),
worth as materialized (
    select s.step, s.separate_lags, lead(s.separate_lags, 1, s.separate_lags) over (order by s.step) as at_next_step
    from statistics.separate_lags(
        alikeness := (select statistics.lag_alikeness(m.of_a, m.of_b, 4 * max_lag_min + 32) from remembered m),
        lags := 2 * max_lag_min + 1
    ) s
),
raised as (
    select
        s.*,
        case when s.p is not null
            then least(1, s.p * (w.separate_lags + (s.step - w.step) * (w.at_next_step - w.separate_lags))) end as p_scan
    from stepped s
    left join worth w on w.step = floor(s.step)
)
select
    l.lag_min,
    t.r,
    coalesce(t.n, 0) as n,
    t.n_effective,
    statistics.correlation_low(t.r, t.n_effective) as low,
    statistics.correlation_high(t.r, t.n_effective) as high,
    t.p,
    t.p_scan,
    t.r is not null and row_number() over (order by abs(t.r) desc nulls last, abs(l.lag_min), l.lag_min) = 1 as is_best,
    case
        when t.n is null then 'no minute in which both exist'
        when t.r is null then 'one of the two does not change'
        when t.n_effective <= 3 then 'too few independent minutes for a p'
        when max_lag_min > 0 and abs(l.lag_min) = max_lag_min
            and abs(t.r) = max(abs(t.r)) over () then 'the best lag is the last one tried: try longer ones'
    end as note
from (select unnest(range(-max_lag_min, max_lag_min + 1)) as lag_min) l
left join raised t on t.lag_min = l.lag_min
order by l.lag_min
