-- events by zone
select event, title, kind, unnest(string_split(zone, '+')) as zone, starts_at, ends_at from programme_event order by all
