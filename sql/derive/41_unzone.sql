delete from zone_minute
where measure = $measure and minute_at >= $from_at and minute_at < $to_at
