-- compared by zone, at
-- each zone's share of all steps of an hour
with hourly as (
    select zone, date_trunc('hour', minute_at) as "at", sum(value) as steps
    from zone_minute
    where measure = 'footsteps'
    group by all
)
select zone, "at", steps, steps / sum(steps) over (partition by "at") as share_of_venue
from hourly
order by "at", share_of_venue desc
