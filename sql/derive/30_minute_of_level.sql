-- Minutes of levels, ratios and decibels: means of what was measured within the minute.
insert into minute_in_hand by name
with good as (
    select
        mote, time_bucket(interval '1 minute', sampled_at) as minute_at, period_us,
        reading_<measure>,
        case when failed_<measure> & 63 = 0 then reading_<measure> end as good_<measure>,
    from judged
),
summed as (
    select
        mote, minute_at, any_value(period_us) as period_us,
        count(good_<measure>) as n_<measure>,
        count(reading_<measure>) - count(good_<measure>) as left_out_<measure>,
        sum(case '<kind>' when 'decibel' then fixed_power(good_<measure>) else fixed(good_<measure>) end) as sum_<measure>,
        min(good_<measure>) as low_<measure>,
        max(good_<measure>) as high_<measure>,
    from good
    group by all
),
mean as (
    select
        *,
        case '<kind>' when 'decibel' then loose_power(sum_<measure> / n_<measure>) else loose(sum_<measure>) / nullif(n_<measure>, 0) end as value_<measure>,
    from summed
)
select mote, measure, minute_at, n, left_out, least(60, n * period_us / 1e6) as covered_s, value, low, high
from mean
unpivot include nulls ((n, left_out, value, low, high) for measure in (
    (n_<measure>, left_out_<measure>, value_<measure>, low_<measure>, high_<measure>) as '<measure>'
))
where n + left_out > 0
