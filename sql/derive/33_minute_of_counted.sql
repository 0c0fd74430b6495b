-- Each count is shared out over the minutes it stands for.
insert into minute_in_hand by name
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
)
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
group by all
