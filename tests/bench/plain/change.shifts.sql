-- half an hour against the half hour before, at every minute of every zone and measure; the largest of each zone
with minute as (
    select zone, measure, minute_at, avg(value) as value
    from mote_minute
    where zone is not null
    group by all
),
beside as (
    select
        *, avg(value) over (course range between interval '30 minutes' preceding and interval '1 minute' preceding) as before,
        avg(value) over (course range between current row and interval '29 minutes' following) as after
    from minute
    window course as (partition by zone, measure order by minute_at)
)
select zone, measure, minute_at, after - before as size
from beside
qualify row_number() over (partition by zone, measure, time_bucket(interval '1 hour', minute_at) order by abs(size) desc) = 1
order by abs(size) desc
