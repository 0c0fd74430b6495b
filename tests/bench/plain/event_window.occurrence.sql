-- compared by event, zone, starts_at, start_number
-- events by zone
select
    event, title, kind, trim(unnest(string_split(coalesce(nullif(trim(zone), ''), '*'), '+'))) as zone, starts_at, ends_at,
    epoch_us(starts_at) // 60000000 as start_number,
    greatest(1, ceil(epoch(ends_at - starts_at) / 60))::bigint as length_min
from programme_event
