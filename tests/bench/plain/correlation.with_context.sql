-- the crowd of the venue against a stream from outside at 61 lags, its last value held for an hour
with minute as (
    select epoch_us(minute_at) // 60000000 as minute_number, avg(value) as value
    from mote_minute
    where measure = 'footsteps'
    group by all
),
outside as (
    select minute_number, point.value
    from (select distinct minute_number from minute) as minute
    asof join (
        select epoch_us("at") // 60000000 as point_number, value
        from context_point
        where stream = (select min(stream) from context_point where value is not null)
    ) as point on minute.minute_number >= point.point_number
    where minute_number - point.point_number < 60
)
select l.lag, corr(outside.value, minute.value) as r, count(*) as n
from outside
cross join range(-30, 31) l(lag)
join minute on minute.minute_number = outside.minute_number + l.lag
group by all
order by l.lag
