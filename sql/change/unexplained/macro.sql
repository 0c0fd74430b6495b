with shift as (
    select s.zone, s.measure, s."at", s.size, s.before, s.after, s.confidence, s.score
    from change.shifts(measure := measure, zone := zone, confidence_least := confidence_least) s
),
known as (
    select o.zone, o.starts_at as "at" from event_window.occurrence o
    union all
    select o.zone, o.ends_at from event_window.occurrence o
    union all
    select coalesce(p.zone, '*'), p."at" from context_point p where p.note is not null
    union all
    select unnest([m.zone, n.zone]), n.from_at
    from mote_place n
    join mote_place m on m.mote = n.mote and m.to_at = n.from_at
)
select s.zone, s.measure, s."at", s.size, s.before, s.after, s.confidence, s.score
from shift s
where not exists (
    select 1 from known k
    where k.zone in (s.zone, '*') and abs(epoch(k."at") - epoch(s."at")) <= near_min * 60
)
order by abs(s.score) desc, s.zone, s.measure, s."at"
