-- Each mote's own middle in each place: what departures are taken from.
insert into mote_reference by name
select
    place.mote, minute.measure, place.from_at,
    median(case when measure.kind in ('count', 'total') then minute.value * 60 / minute.covered_s else minute.value end) as value
from mote_minute as minute
join measure using (measure)
join mote_place as place
    on place.mote = minute.mote and place.from_at <= minute.minute_at
    and place.to_at >= minute.minute_at + interval '1 minute'
where minute.mote in (from reach select mote) and minute.zone is not null and minute.value is not null
    and (measure.kind not in ('count', 'total') or minute.covered_s >= 30)
group by all
