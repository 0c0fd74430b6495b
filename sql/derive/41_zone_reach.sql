-- The minutes of zones that may have changed, measure by measure.
create or replace temp table zone_reach as
select measure, date_trunc('minute', min(from_at)) as from_at, max(to_at) as to_at
from work.reached
group by measure
