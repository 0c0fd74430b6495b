-- compared by kind, offset_min, events
-- the crowd round the starts of events, by kind, each zone from its level before
with reference as (
    select mote, value, from_at, lead(from_at, 1, 'infinity') over (partition by mote order by from_at) as to_at
    from mote_reference
    where measure = 'footsteps'
),
by_zone as materialized (
    select
        zone, epoch_us(minute_at) // 60000000 as minute_number, count(*) as motes,
        avg(m.value * 60 / covered_s - r.value) as value
    from mote_minute m
    join reference r on r.mote = m.mote and minute_at >= from_at and minute_at < to_at
    where measure = 'footsteps' and zone is not null and m.value is not null and covered_s >= 30
    group by all
),
crowd as (
    select zone, minute_number, value from by_zone
    union all
    select '*', minute_number, sum(value * motes) / sum(motes) from by_zone group by minute_number
),
course as (
    select event, kind, laid.zone, floor("offset" / 5)::bigint * 5 as offset_min, avg(value) as value
    from (
        select event, kind, trim(one) as zone, epoch_us(starts_at) // 60000000 as start_number, unnest(range(-30, 90)) as "offset"
        from (select *, unnest(string_split(coalesce(nullif(trim(zone), ''), '*'), '+')) as one from programme_event)
    ) laid
    join crowd c on c.zone = laid.zone and minute_number = start_number + "offset"
    group by all
),
started as (
    select *, avg(value) filter (offset_min < 0) over (partition by event, zone) as before from course
),
by_event as (
    select kind, event, offset_min, avg(value - before) as value from started where before is not null group by all
)
select kind, offset_min, avg(value) as value, count(*) as events
from by_event
group by all
order by all
