delete from work.ten_minute
using moved
where ten_minute.measure = $measure and ten_minute.mote = moved.mote
    and ten_minute.bucket_at >= time_bucket(interval '10 minutes', moved.from_at)
    and ten_minute.bucket_at <= time_bucket(interval '10 minutes', moved.to_at)
