-- Every hour of a share is written again, those included that were written and hold nothing any more.
insert into work.dirty_hour
select distinct hour_at
from (
    select date_trunc('hour', sampled_at) as hour_at from burst
    union all select date_trunc('hour', minute_at) from mote_minute
    union all select date_trunc('hour', minute_at) from zone_minute
    union all select hour_at from work.part
)
where hour_at not in (select hour_at from work.dirty_hour)
