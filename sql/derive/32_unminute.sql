delete from mote_minute
using reach
where mote_minute.measure = $measure and mote_minute.mote = reach.mote
    and mote_minute.minute_at >= $from_at and mote_minute.minute_at < $to_at
    and mote_minute.minute_at >= date_trunc('minute', reach.from_at - $margin)
    and mote_minute.minute_at <= date_trunc('minute', reach.to_at + $margin)
