-- Motes whose odd minutes are not what they were: their readings are flagged again. No burst of theirs is in hand.
insert into reach
with before as (
    select mote, bucket_at
    from work.odd
    where measure = $measure and bucket_at >= $from_at and bucket_at <= $to_at + interval '30 minutes'
)
select mote, min(bucket_at), max(bucket_at) + interval '10 minutes', 'infinity'::timestamptz
from (
    (from before except from odd_in_hand)
    union all
    (from odd_in_hand except from before)
)
group by mote
