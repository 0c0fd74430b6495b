-- How many motes stand in a zone with a measure in their kit, from when to when.
create or replace temp table expected as
with stay as (
    select place.zone, unnest(string_split(mote.kit, '+')) as measure, place.from_at, place.to_at
    from mote_place as place
    join mote using (mote)
    where place.zone is not null
),
step as (
    select zone, measure, from_at as changed_at, 1 as motes from stay
    union all
    select zone, measure, to_at, -1 from stay
)
select zone, measure, changed_at as from_at,
       lead(changed_at, 1, 'infinity'::timestamptz) over (partition by zone, measure order by changed_at) as to_at,
       sum(sum(motes)) over (partition by zone, measure order by changed_at) as motes
from step
group by zone, measure, changed_at
