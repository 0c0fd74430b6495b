-- each zone's share of all steps of an hour
select zone, date_trunc('hour', minute_at) as hour, sum(value) as steps,
    sum(value) / sum(sum(value)) over (partition by date_trunc('hour', minute_at)) as share
from zone_minute
where measure = 'footsteps'
group by all
order by hour, share desc
