delete from reading
where measure = $measure and burst in (from flagged select burst union all from gone select burst)
    and sampled_at >= $from_at and sampled_at < $to_at
