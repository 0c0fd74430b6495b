select
    row_number() over (order by abs(r.effect / r.spread) desc nulls last, r.event, r.zone) as rank,
    r.event, e.title, r.kind, r.zone, e.starts_at,
    r.effect / r.spread as score,
    r.effect, r.low, r.high, r.p, r.matched_by, r.matched_n, r.overlaps, r.measure, r.note
from event_window.response(
    measure := measure, before_min := before_min, kind := kind, zone := zone, matched_least := matched_least
) r
left join programme_event e on e.event = r.event
order by rank
