-- two measures of the venue, with each mote left out in turn
with minute as (
    select epoch_us(minute_at) // 60000000 as minute_number, mote,
        any_value(value) filter (measure = 'footsteps') as a, any_value(value) filter (measure = 'temperature') as b
    from mote_minute
    where measure in ('footsteps', 'temperature')
    group by all
),
venue as (
    select minute_number, sum(a) as a, count(a) as a_motes, sum(b) as b, count(b) as b_motes from minute group by all
),
motes as (select distinct mote from minute),
-- The sums of every minute, less what the mote itself said.
without as (
    select
        motes.mote,
        (venue.a - coalesce(minute.a, 0)) / nullif(venue.a_motes - (minute.a is not null)::int, 0) as a,
        (venue.b - coalesce(minute.b, 0)) / nullif(venue.b_motes - (minute.b is not null)::int, 0) as b
    from motes
    cross join venue
    left join minute on minute.mote = motes.mote and minute.minute_number = venue.minute_number
)
select mote, corr(a, b) as r_without from without group by mote order by r_without
