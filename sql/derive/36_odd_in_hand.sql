-- Ten minutes in which a mote went its own way. Its change is that of its middle against its middle over the half hour
-- before; the zone's is the median of its motes' changes. Absolutes never enter: motes differ by offset and by place.
-- Odd is what departs from the zone's change by more than six robust standard deviations (1.4826 x MAD) of the zone's
-- changes, and by more than max_step, below which nobody can tell a fault from a draught. It takes four motes
-- that stood still in the zone all the while: of three, one that is right cannot outvote two. Counts are left alone,
-- since people are where they are; so is a measure without max_step.
-- Some hours at a time: a median keeps what it is taken of in memory.
insert into odd_in_hand by name
with course as (
    select
        middle.mote, middle.measure, bucket_at, value - median(value) over half_hour as change,
        count(*) over half_hour as buckets_before
    from work.ten_minute as middle
    join compared on compared.measure = middle.measure
        and bucket_at >= greatest(compared.from_at, $from_at) - interval '40 minutes'
        and bucket_at <= compared.to_at and bucket_at < $to_at
    window half_hour as (
        partition by middle.mote, middle.measure order by bucket_at
        range between interval '30 minutes' preceding and interval '10 minutes' preceding
    )
),
placed as (
    select course.mote, course.measure, course.bucket_at, course.change, place.zone
    from course
    join mote_place as place
        on place.mote = course.mote and place.from_at <= course.bucket_at - interval '30 minutes'
        and place.to_at >= course.bucket_at + interval '10 minutes'
    where place.zone is not null and course.buckets_before >= 2 and course.bucket_at >= $from_at
),
zone_change as (
    select zone, measure, bucket_at, median(change) as change, mad(change) as spread
    from placed
    group by zone, measure, bucket_at
    having count(*) >= 4
)
select placed.mote, placed.measure, placed.bucket_at
from placed
join zone_change as zone using (zone, measure, bucket_at)
join compared using (measure)
where abs(placed.change - zone.change) > greatest(compared.max_step, 6 * 1.4826 * zone.spread)
    and placed.bucket_at >= compared.from_at
