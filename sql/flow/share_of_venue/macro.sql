with bin as (
    select
        z.zone, any_value(z.level) as level,
        time_bucket(to_minutes(every_min), z.minute_at, c.starts_at) as bin_at,
        sum(z.value) as steps,
        sum(z.motes) / sum(z.motes_expected)::double as heard_share
    from zone_minute z
    cross join campaign c
    where z.measure = series.crowd_measure(measure)
    group by z.zone, bin_at
),
shared as (
    select b.*, b.steps / nullif(sum(b.steps) over (partition by b.bin_at), 0) as share_of_venue from bin b
)
select
    s.zone, s.level, s.bin_at as "at", s.steps, s.share_of_venue,
    s.share_of_venue - median(s.share_of_venue) over (partition by s.zone) as unlike_usual,
    s.heard_share
from shared s
order by s.bin_at, s.share_of_venue desc, s.zone
