-- how each mote's light and sound go with those of its zone, and its pressure against its storey's
with hour as (
    select mote, zone, measure, time_bucket(interval '10 minutes', minute_at) as "at", avg(value) as value
    from mote_minute
    where measure in ('light', 'sound', 'pressure') and zone is not null
    group by all
),
place as (select zone, measure, "at", median(value) as value from hour group by all)
select mote, zone, measure, corr(hour.value, place.value) as r, stddev(hour.value - place.value) as apart
from hour
join place using (zone, measure, "at")
group by all
order by r
