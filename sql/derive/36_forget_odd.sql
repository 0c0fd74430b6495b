delete from work.odd
where measure = $measure and bucket_at >= $from_at and bucket_at <= $to_at + interval '30 minutes'
