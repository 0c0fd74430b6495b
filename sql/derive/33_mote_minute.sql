-- A minute that holds a change of place has no zone.
insert into mote_minute by name
select
    minute.mote, place.zone, $measure as measure, minute.minute_at, minute.n, minute.left_out, minute.covered_s,
    minute.value, minute.low, minute.high
from minute_in_hand as minute
join moved on moved.mote = minute.mote
    and minute.minute_at >= date_trunc('minute', moved.from_at - $margin)
    and minute.minute_at <= date_trunc('minute', moved.to_at + $margin)
left join mote_place as place
    on place.mote = minute.mote and place.from_at <= minute.minute_at
    and place.to_at >= minute.minute_at + interval '1 minute'
order by minute.mote, minute.minute_at
