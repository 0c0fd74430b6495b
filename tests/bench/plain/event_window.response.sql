-- the crowd during each event less the half hour before, and the same for the day before
with minute as (
    select zone, minute_at, avg(value) as value
    from mote_minute
    where measure = 'footsteps'
    group by all
),
around as (
    select
        event.event, event.zone, other.days,
        avg(value) filter (minute_at >= starts_at - to_days(days) and minute_at < ends_at - to_days(days))
        - avg(value) filter (minute_at < starts_at - to_days(days)) as difference
    from programme_event as event
    cross join (values (0), (1)) as other (days)
    join minute on minute.zone = event.zone
        and minute_at >= starts_at - to_days(days) - interval '30 minutes' and minute_at < ends_at - to_days(days)
    group by all
)
select event, zone, any_value(difference) filter (days = 0) - any_value(difference) filter (days = 1) as effect
from around
group by all
order by all
