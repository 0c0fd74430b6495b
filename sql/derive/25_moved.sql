-- Where readings of this measure came, went or changed their flags, mote by mote.
insert into moved
select mote, min(sampled_at), max(sampled_at)
from (
    select mote, sampled_at from flagged
    union all
    select mote, sampled_at from gone where sampled_at >= $from_at and sampled_at < $to_at
)
group by mote
