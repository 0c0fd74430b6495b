-- two measures of the venue, four hours by four hours
with minute as (
    select minute_at, avg(value) filter (measure = 'footsteps') as a, avg(value) filter (measure = 'temperature') as b
    from mote_minute
    where measure in ('footsteps', 'temperature')
    group by all
)
select time_bucket(interval '4 hours', minute_at) as "at", corr(a, b) as r, count(*) as n
from minute
group by all
order by all
