-- How far the change reaches in each mote's own time.
create or replace temp table reach as
select mote, min(sampled_at) as from_at, max(sampled_at) as to_at
from (select mote, sampled_at from changed union all select mote, sampled_at from gone)
group by mote
