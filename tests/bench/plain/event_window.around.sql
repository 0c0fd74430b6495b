-- events, notes and gaps of motes within an hour of the busiest minute of the busiest zone
with crowd as (
    select zone, minute_at, value / motes as value
    from zone_minute
    where measure = 'footsteps'
    order by value desc
    limit 1
),
gap as (
    select mote, max(sampled_at) as from_at, lead(min(sampled_at)) over (partition by mote order by min(sampled_at)) as to_at
    from burst
    group by mote, epoch_us(sampled_at) // 120000000
),
known as (
    select 'event' as what, title as said, starts_at as from_at, ends_at as to_at from programme_event
    union all
    select 'note', note, "at", "at" from context_point where note is not null
    union all
    select 'silence', mote, from_at, to_at from gap where to_at - from_at > interval '2 minutes'
)
select known.*
from known
join crowd on known.from_at < crowd.minute_at + interval '1 hour' and known.to_at > crowd.minute_at - interval '1 hour'
order by from_at
