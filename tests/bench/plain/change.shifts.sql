-- half an hour against the half hour before, every five minutes of every zone and measure; the largest of each hour
with bin as (
    select zone, measure, time_bucket(interval '5 minutes', minute_at) as "at", avg(value) as value
    from mote_minute
    where zone is not null
    group by all
),
beside as (
    select
        *, avg(value) over (course range between interval '30 minutes' preceding and interval '5 minutes' preceding) as before,
        avg(value) over (course range between current row and interval '25 minutes' following) as after
    from bin
    window course as (partition by zone, measure order by "at")
)
select zone, measure, "at", after - before as size
from beside
qualify row_number() over (partition by zone, measure, time_bucket(interval '1 hour', "at") order by abs(size) desc) = 1
order by abs(size) desc
