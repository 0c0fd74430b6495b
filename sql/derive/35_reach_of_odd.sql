-- Motes whose odd minutes are not what they were: their readings are flagged again.
create or replace temp table reach as
with before as (
    select mote, bucket_at
    from work.odd
    where measure = $measure and bucket_at >= $from_at and bucket_at <= $to_at + interval '30 minutes'
)
select mote, min(bucket_at) as from_at, max(bucket_at) + interval '10 minutes' as to_at
from (
    (from before except from odd_in_hand)
    union all
    (from odd_in_hand except from before)
)
group by mote
