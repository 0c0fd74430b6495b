-- Each count is shared out over the minutes it stands for, where those moved.
insert into mote_minute by name
with piece as (
    select
        *,
        unnest(range((to_us - covers_us) // 60000000, (to_us - 1) // 60000000 + 1)) as minute
    from counted
),
share as (
    select
        mote, measure, is_good, minute,
        least(to_us, (minute + 1) * 60000000) - greatest(to_us - covers_us, minute * 60000000) as us,
        value * us / covers_us as value
    from piece
),
summed as (
    select
        mote, measure,
        make_timestamptz(minute * 60000000) as minute_at,
        count(*) filter (is_good) as n,
        count(*) filter (not is_good) as left_out,
        least(60, coalesce(sum(us) filter (is_good), 0) / 1e6) as covered_s,
        loose(sum(fixed(value)) filter (is_good)) as value,
        min(value) filter (is_good) as low,
        max(value) filter (is_good) as high
    from share
    group by mote, measure, minute
)
select
    summed.mote, place.zone, summed.measure, summed.minute_at, summed.n, summed.left_out, summed.covered_s,
    summed.value, summed.low, summed.high
from summed
join moved on moved.measure = summed.measure and moved.mote = summed.mote
    and summed.minute_at >= date_trunc('minute', moved.from_at) and summed.minute_at <= moved.to_at
left join mote_place as place
    on place.mote = summed.mote and place.from_at <= summed.minute_at
    and place.to_at >= summed.minute_at + interval '1 minute'
order by epoch_us(summed.minute_at) // 3600000000
