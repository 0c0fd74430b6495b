-- the crowd round the starts of events, by kind
with minute as (
    select zone, epoch_us(minute_at) // 60000000 as minute_number, avg(value) as value
    from mote_minute
    where measure = 'footsteps'
    group by all
)
select e.kind, o.offset, avg(m.value) as value, count(distinct e.event) as events
from programme_event e
cross join range(-60, 61) o("offset")
join minute m on m.zone = e.zone and m.minute_number = epoch_us(e.starts_at) // 60000000 + o.offset
group by all
order by all
