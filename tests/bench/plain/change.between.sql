-- the last hour against the one before, over motes
with span as (select max(minute_at) - interval 1 hour as middle from zone_minute)
select zone, measure,
    avg(value) filter (minute_at > (select middle from span)) - avg(value) filter (minute_at <= (select middle from span))
        as change
from mote_minute
where minute_at > (select middle - interval 1 hour from span)
group by all
order by abs(change) desc
