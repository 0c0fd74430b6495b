-- Minutes of counts. A count stands for the period before its burst, a running counter for what it grew by since the
-- burst before in its boot (where it falls it was set back, and says nothing): each is shared out over the minutes it
-- stands for.
create or replace temp table minute_in_hand as
with counted as (
    select reading.mote, reading.sampled_at, reading.flag,
        case $kind
            when 'count' then reading.value
            else reading.value - lag(reading.value) over course
        end as value,
        case $kind
            when 'count' then period.period_us
            else epoch_us(reading.sampled_at) - epoch_us(lag(reading.sampled_at) over course)
        end as covers_us
    from reading
    join work.mote_period as period using (mote)
    join burst using (burst)
    where reading.measure = $measure and reading.mote in (from moved select mote)
        and ($kind = 'count' or reading.flag <= 2)
        and reading.sampled_at >= $from_at - $margin and reading.sampled_at < $to_at + $margin
        and burst.sampled_at >= $from_at - $margin and burst.sampled_at < $to_at + $margin
    window course as (partition by reading.mote, burst.boot order by reading.sampled_at, reading.burst)
),
piece as (
    select
        mote, flag, value, covers_us,
        unnest(range(
            (epoch_us(sampled_at) - covers_us) // 60000000,
            (epoch_us(sampled_at) - 1) // 60000000 + 1
        )) as minute,
        epoch_us(sampled_at) as to_us
    from counted
    where value >= 0 and covers_us > 0 and covers_us <= epoch_us(make_timestamp(0) + $margin)
),
share as (
    select
        mote, flag, minute,
        least(to_us, (minute + 1) * 60000000) - greatest(to_us - covers_us, minute * 60000000) as us,
        value * us / covers_us as value
    from piece
)
select
    mote,
    make_timestamptz(minute * 60000000) as minute_at,
    count(*) filter (flag <= 2) as n,
    count(*) filter (flag > 2) as left_out,
    least(60, coalesce(sum(us) filter (flag <= 2), 0) / 1e6) as covered_s,
    loose(sum(fixed(value)) filter (flag <= 2)) as value,
    min(value) filter (flag <= 2) as low,
    max(value) filter (flag <= 2) as high
from share
where make_timestamptz(minute * 60000000) >= $from_at and make_timestamptz(minute * 60000000) < $to_at
group by all
