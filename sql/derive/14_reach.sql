-- How far the change reaches in each mote's own time, and from when on all of its bursts are in hand: of a mote that
-- just went on (no other has a course now) from the beginning of its window.
create or replace temp table reach as
with moved as (
    select mote, sampled_at from changed union all select mote, sampled_at from gone
),
seen as (
    select mote, min(sampled_at) as seen_from
    from burst_in_hand
    where mote in (select mote from work.course)
    group by mote
)
select
    moved.mote, min(moved.sampled_at) as from_at, max(moved.sampled_at) as to_at,
    coalesce(any_value(seen.seen_from), '-infinity'::timestamptz) as seen_from
from moved
left join seen using (mote)
group by moved.mote
