-- A mote's middle over each ten minutes, of readings that no test on the mote alone found fault with.
delete from work.ten_minute
using moved
where ten_minute.measure = moved.measure and ten_minute.mote = moved.mote
    and ten_minute.bucket_at >= time_bucket(interval '10 minutes', moved.from_at)
    and ten_minute.bucket_at <= moved.to_at;
insert into work.ten_minute by name
with middle as (
    select
        mote, time_bucket(interval '10 minutes', sampled_at) as bucket_at,
        median(reading_<measure>) filter (failed_<measure> & 31 = 0) as middle_<measure>,
    from judged
    group by all
),
read as (
    from middle
    unpivot (value for measure in (
        middle_<measure> as '<measure>'
    ))
)
select read.mote, read.measure, read.bucket_at, read.value
from read
join moved on moved.measure = read.measure and moved.mote = read.mote
    and read.bucket_at >= time_bucket(interval '10 minutes', moved.from_at)
    and read.bucket_at <= moved.to_at
