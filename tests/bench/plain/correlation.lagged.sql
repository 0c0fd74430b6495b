-- two measures of the venue at 61 lags, minute by minute
with minute as (
    select epoch_us(minute_at) // 60000000 as minute_number,
        avg(value) filter (measure = 'footsteps') as a, avg(value) filter (measure = 'temperature') as b
    from mote_minute
    where measure in ('footsteps', 'temperature')
    group by minute_number
)
select l.lag, corr(x.a, y.b) as r, count(*) as n
from minute x
cross join range(-30, 31) l(lag)
join minute y on y.minute_number = x.minute_number + l.lag
group by all
order by l.lag
