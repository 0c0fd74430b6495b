-- All that is derived leaves the warehouse, to be made again from the hearings of motes that the register names.
-- What was there is published again, the hours that will be empty included.
insert into work.dirty_hour
select distinct hour_at
from (
    select date_trunc('hour', sampled_at) as hour_at from burst
    union
    select date_trunc('hour', minute_at) from mote_minute
    union
    select date_trunc('hour', minute_at) from zone_minute
)
where hour_at not in (select hour_at from work.dirty_hour);
delete from burst;
delete from reading;
delete from mote_minute;
delete from zone_minute;
delete from mote_reference;
delete from work.ten_minute;
delete from work.odd;
delete from work.mote_hour;
delete from work.duplicate;
delete from work.hearing where mote not in (select mote from mote);
delete from work.course;
delete from work.late;
