-- The hearings of one UTC day, in the order in which questions about one mote read them. Object and line
-- settle ties, so that the same batch is the same file.
-- day_at: its first instant.
from staged_hearing
where received_at >= $day_at::timestamptz
    and received_at < $day_at::timestamptz + interval 24 hours
order by mote, received_at, object, line
