-- mean of each local hour less that of the day before
with departure as (
    select m.zone, m.measure, m.minute_at, avg(m.value - r.value) as value
    from mote_minute m
    join mote_reference r on r.mote = m.mote and r.measure = m.measure
    where m.zone is not null
    group by all
),
hourly as (
    select d.zone, d.measure, date_trunc('hour', timezone(c.time_zone, d.minute_at)) as hour, avg(d.value) as value
    from departure d
    cross join campaign c
    group by all
)
select t.zone, t.measure, t.hour, t.value - y.value as change
from hourly t
join hourly y on y.zone = t.zone and y.measure = t.measure and y.hour = t.hour - interval 1 day
order by abs(change) desc
