delete from mote_minute
using moved
where mote_minute.measure = moved.measure and mote_minute.mote = moved.mote
    and mote_minute.minute_at >= date_trunc('minute', moved.from_at) and mote_minute.minute_at <= moved.to_at
    and mote_minute.minute_at >= $from_at and mote_minute.minute_at < $to_at
