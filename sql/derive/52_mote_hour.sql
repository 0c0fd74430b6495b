-- The middle of each mote's minutes, hour by hour and place by place. Counts are taken to the whole minute.
insert into work.mote_hour by name
select
    minute.mote, minute.measure, place.from_at, date_trunc('hour', minute.minute_at) as hour_at,
    median(case when measure.kind in ('count', 'total') then minute.value * 60 / minute.covered_s else minute.value end) as value
from mote_minute as minute
join measure using (measure)
join reached on reached.mote = minute.mote and reached.measure = minute.measure
    and minute.minute_at >= date_trunc('hour', reached.from_at)
    and minute.minute_at < date_trunc('hour', reached.to_at) + interval '1 hour'
join mote_place as place
    on place.mote = minute.mote and place.from_at <= minute.minute_at
    and place.to_at >= minute.minute_at + interval '1 minute'
where minute.zone is not null and minute.value is not null
    and minute.minute_at >= $from_at and minute.minute_at < $to_at
    and (measure.kind not in ('count', 'total') or minute.covered_s >= 30)
group by all
