-- median of each hour less the median of that day's quiet hours, in units of the latter's spread
with departure as (
    select m.zone, m.measure, m.minute_at, avg(m.value - r.value) as value
    from mote_minute m
    join mote_reference r on r.mote = m.mote and r.measure = m.measure
    where m.zone is not null
    group by all
),
local as (
    select d.*, timezone(c.time_zone, d.minute_at) as local_at, c.baseline_from, c.baseline_to
    from departure d
    cross join campaign c
),
quiet as (
    select zone, measure, local_at::date as day, median(value) as middle, mad(value) as spread
    from local
    where local_at::time >= baseline_from and local_at::time < baseline_to
    group by all
)
select l.zone, l.measure, date_trunc('hour', l.local_at) as hour, median(l.value) - q.middle as change,
    change / nullif(q.spread, 0) as score
from local l
join quiet q on q.zone = l.zone and q.measure = l.measure and q.day = l.local_at::date
group by l.zone, l.measure, hour, q.middle, q.spread
order by abs(score) desc
