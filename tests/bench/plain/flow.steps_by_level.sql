-- compared by level, at
-- steps of each storey and hour
select level, date_trunc('hour', minute_at) as "at", sum(value) as steps
from zone_minute
where measure = 'footsteps'
group by all
order by all
