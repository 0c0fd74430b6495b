with "end" as (
    select coalesce(cast(moment as timestamptz), (select max(z.minute_at) from zone_minute z)) as moment_at
),
known as (
    select
        'event starts' as what, nullif(o.zone, '*') as zone, o.starts_at as "at", null::double as size,
        o.event || coalesce(': ' || o.title, '') as detail
    from event_window.occurrence o
    union all
    select 'event ends', nullif(o.zone, '*'), o.ends_at, null, o.event || coalesce(': ' || o.title, '')
    from event_window.occurrence o
    union all
    select 'note', p.zone, p."at", p.value, p.stream || ': ' || p.note from context_point p where p.note is not null
    union all
    select 'shift', s.zone, s."at", s.size, s.measure || ', confidence ' || round(s.confidence, 3)
    from change.shifts(
        zone := zone, confidence_least := 0.95,
        from_at := (select e.moment_at - to_minutes(near_min + 1440) from "end" e),
        to_at := (select e.moment_at + to_minutes(near_min + 1440) from "end" e)
    ) s
    union all
    select
        unnest(['silence begins', 'silence ends']), g.zone, unnest([g.from_at, g.to_at]), g.bursts_missed,
        g.mote || ': ' || g.cause
    from fleet.silence(periods := 30) g
    where g.cause <> 'losses'
    union all
    select 'mote placed', p.zone, p.from_at, null, p.mote from mote_place p where p.zone is not null
)
select
    k.what, k.zone, k."at", (epoch(k."at") - epoch(e.moment_at)) / 60 as offset_min, k.size, k.detail
from known k
cross join "end" e
where abs(epoch(k."at") - epoch(e.moment_at)) <= near_min * 60
    and (zone is null or k.zone is null or k.zone = zone)
order by k."at", k.what, k.zone, k.detail
