select
    e.event, e.title, e.kind,
    trim(z.zone) as zone,
    e.starts_at, e.ends_at,
    epoch(e.starts_at)::bigint // 60 as start_number,
    greatest(1, ceil((epoch(e.ends_at) - epoch(e.starts_at)) / 60)::bigint) as length_min
from programme_event e
cross join unnest(string_split(coalesce(nullif(trim(e.zone), ''), '*'), '+')) z(zone)
