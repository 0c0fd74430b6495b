with bin as (
    select
        z.level,
        time_bucket(to_minutes(every_min), z.minute_at, c.starts_at) as "at",
        sum(z.value) as steps,
        count(distinct z.minute_at) as minutes,
        sum(z.motes) / sum(z.motes_expected)::double as heard_share
    from zone_minute z
    cross join campaign c
    where z.measure = series.crowd_measure(measure)
    group by z.level, "at"
)
select
    b.level, l.height_m, b."at", b.steps,
    b.steps / nullif(sum(b.steps) over (partition by b."at"), 0) as share_of_venue,
    b.minutes, b.heard_share
from bin b
left join level l on l.level = b.level
order by b."at", l.height_m, b.level
