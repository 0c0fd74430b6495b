-- Motes whose odd minutes are not what they were: their readings are flagged again. No burst of theirs is in hand.
-- A mote that was odd in several measures is reached for once, or its readings would be made twice.
insert into reach
with before as (
    select odd.mote, odd.measure, odd.bucket_at
    from work.odd
    join compared using (measure)
    where odd.bucket_at >= compared.from_at and odd.bucket_at <= compared.to_at
)
select mote, min(bucket_at), max(bucket_at) + interval '10 minutes', 'infinity'::timestamptz
from (
    (from before except from odd_in_hand)
    union all
    (from odd_in_hand except from before)
)
group by mote
