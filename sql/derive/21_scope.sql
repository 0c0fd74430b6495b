-- What is made again, mote by mote: readings and minutes of whole ten minutes (from_at to to_at). Counts that reach
-- back into them are judged too (until judged_to), and the tests look further (look_from to look_to).
create or replace temp table scope as
with near_or_far as (
    select *, case when mote in (select mote from doubtful) then $margin else $near end as margin from reach
)
select
    mote, seen_from,
    scope_begin(from_at, margin) as from_at,
    scope_end(to_at, margin) as to_at,
    scope_end(to_at, margin) + $period as judged_to,
    scope_begin(from_at, margin) - margin as look_from,
    scope_end(to_at, margin) + $period + margin as look_to
from near_or_far
