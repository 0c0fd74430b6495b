-- A mote's middle over each ten minutes, of readings that no test on the mote alone found fault with.
insert into work.ten_minute by name
select
    reading.mote, $measure as measure, time_bucket(interval '10 minutes', reading.sampled_at) as bucket_at,
    median(reading.value) as value
from reading
join reach on reach.mote = reading.mote
    and reading.sampled_at >= time_bucket(interval '10 minutes', reach.from_at - $margin)
    and reading.sampled_at < time_bucket(interval '10 minutes', reach.to_at + $margin) + interval '10 minutes'
where reading.measure = $measure and (reading.reason is null or reading.reason = 'odd')
    and reading.sampled_at >= time_bucket(interval '10 minutes', $from_at)
    and reading.sampled_at < time_bucket(interval '10 minutes', $to_at) + interval '10 minutes'
group by all
