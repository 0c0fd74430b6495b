-- A minute that holds a change of place has no zone.
delete from mote_minute
using moved
where mote_minute.measure = moved.measure and mote_minute.mote = moved.mote
    and mote_minute.minute_at >= date_trunc('minute', moved.from_at) and mote_minute.minute_at <= moved.to_at
    and mote_minute.minute_at >= $from_at and mote_minute.minute_at < $to_at;
insert into mote_minute by name
select
    minute.mote, place.zone, minute.measure, minute.minute_at, minute.n, minute.left_out, minute.covered_s,
    minute.value, minute.low, minute.high
from minute_in_hand as minute
join moved on moved.measure = minute.measure and moved.mote = minute.mote
    and minute.minute_at >= date_trunc('minute', moved.from_at) and minute.minute_at <= moved.to_at
left join mote_place as place
    on place.mote = minute.mote and place.from_at <= minute.minute_at
    and place.to_at >= minute.minute_at + interval '1 minute'
order by epoch_us(minute.minute_at) // 3600000000
