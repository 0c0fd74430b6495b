-- The hearings of one UTC day, mote by mote as they came in. Within an object lines stand in the order of
-- their arrival, so three whole numbers sort as well as names and times, at half the cost; the same batch is
-- the same file.
-- day_at: its first instant.
with heard as (
    from staged_line
    where received_at >= $day_at::timestamptz
        and received_at < $day_at::timestamptz + interval 24 hours
    order by mote_number, object_number, line
)
select object, line, mote, * exclude (object, object_number, line, mote, mote_number, quoted, unknown_names, other_text)
from heard
    join staged_object using (object_number)
    join staging_mote using (mote_number)
