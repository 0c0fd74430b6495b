-- A mote's middle over each ten minutes, of readings that no test on the mote alone found fault with.
insert into work.ten_minute by name
select
    reading.mote, $measure as measure, time_bucket(interval '10 minutes', reading.sampled_at) as bucket_at,
    median(reading.value) as value
from reading
join moved on moved.mote = reading.mote
    and reading.sampled_at >= time_bucket(interval '10 minutes', moved.from_at)
    and reading.sampled_at < time_bucket(interval '10 minutes', moved.to_at) + interval '10 minutes'
where reading.measure = $measure and (reading.reason is null or reading.reason = 'odd')
    and reading.sampled_at >= time_bucket(interval '10 minutes', $from_at)
    and reading.sampled_at < time_bucket(interval '10 minutes', $to_at) + interval '10 minutes'
group by all
