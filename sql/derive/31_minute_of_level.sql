-- Minutes of levels, ratios and decibels: means of what was measured within the minute, where that moved. A minute that
-- holds a change of place has no zone. What belongs to one hour stands together, since it is published hour by hour:
-- rows are put in order while all measures stand in one, and no join comes after, for a join keeps no order.
insert into mote_minute by name
with moved_mote as (
    select
        mote,
        any_value(from_at) filter (measure = '<measure>') as from_<measure>,
        any_value(to_at) filter (measure = '<measure>') as to_<measure>,
    from moved
    group by mote
),
good as (
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
        summed.mote, place.zone, minute_at, period_us,
        case when minute_at >= date_trunc('minute', from_<measure>) and minute_at <= to_<measure> then n_<measure> end as n_<measure>,
        left_out_<measure>,
        low_<measure>,
        high_<measure>,
        case '<kind>' when 'decibel' then loose_power(sum_<measure> / summed.n_<measure>) else loose(sum_<measure>) / nullif(summed.n_<measure>, 0) end as value_<measure>,
    from summed
    join moved_mote using (mote)
    left join mote_place as place
        on place.mote = summed.mote and place.from_at <= minute_at and place.to_at >= minute_at + interval '1 minute'
    order by epoch_us(minute_at) // 3600000000
)
select mote, zone, measure, minute_at, n, left_out, least(60, n * period_us / 1e6) as covered_s, value, low, high
from mean
unpivot include nulls ((n, left_out, value, low, high) for measure in (
    (n_<measure>, left_out_<measure>, value_<measure>, low_<measure>, high_<measure>) as '<measure>'
))
where n + left_out > 0
