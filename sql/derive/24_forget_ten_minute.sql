delete from work.ten_minute
using reach
where ten_minute.measure = $measure and ten_minute.mote = reach.mote
    and ten_minute.bucket_at >= time_bucket(interval '10 minutes', reach.from_at - $margin)
    and ten_minute.bucket_at <= time_bucket(interval '10 minutes', reach.to_at + $margin)
