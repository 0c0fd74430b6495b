delete from reading
using reach
where reading.measure = $measure and reading.mote = reach.mote
    and reading.sampled_at >= $from_at and reading.sampled_at < $to_at
    and reading.sampled_at >= reach.from_at - $margin and reading.sampled_at <= reach.to_at + $margin
