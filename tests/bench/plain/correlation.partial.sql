-- two measures of the venue once a third is taken off both
with minute as (
    select
        minute_at, avg(value) filter (measure = 'footsteps') as a, avg(value) filter (measure = 'temperature') as b,
        avg(value) filter (measure = 'relative_humidity') as c
    from mote_minute
    where measure in ('footsteps', 'temperature', 'relative_humidity')
    group by all
),
plain as (select corr(a, b) as ab, corr(a, c) as ac, corr(b, c) as bc from minute)
select (ab - ac * bc) / sqrt((1 - ac * ac) * (1 - bc * bc)) as r_partial from plain
