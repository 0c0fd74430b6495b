with minute as (
    select unnest(generate_series(min(z.minute_at), max(z.minute_at), interval 1 minute)) as minute_at from zone_minute z
),
wall as (
    select m.minute_at, timezone(c.time_zone, m.minute_at) as local_at, c.baseline_from, c.baseline_to, c.open_from, c.open_to
    from minute m
    cross join campaign c
)
select
    w.minute_at,
    w.local_at,
    w.local_at::date as day_date,
    hour(w.local_at) * 60 + minute(w.local_at) as minute_of_day,
    series.is_between(w.local_at::time, w.baseline_from, w.baseline_to) as is_quiet,
    -- quiet hours that begin before midnight are those of the day that follows
    case when w.baseline_from > w.baseline_to and w.local_at::time >= w.baseline_from
        then w.local_at::date + 1 else w.local_at::date end as quiet_date,
    series.is_between(w.local_at::time, coalesce(w.open_from, time '00:00'), coalesce(w.open_to, time '24:00')) as is_open
from wall w
