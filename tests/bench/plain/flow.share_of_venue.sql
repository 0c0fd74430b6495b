-- each zone's share of all steps of an hour
with hourly as (
    select zone, date_trunc('hour', minute_at) as hour, sum(value) as steps
    from zone_minute
    where measure = 'footsteps'
    group by all
)
select zone, hour, steps, steps / sum(steps) over (partition by hour) as share
from hourly
order by hour, share desc
