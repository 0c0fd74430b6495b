-- Each mote's own middle in each place, what departures are taken from: the median of its hours' medians. Any robust
-- middle would do; this one is had again from the hours that changed.
delete from mote_reference where mote in (from reached select mote);
insert into mote_reference by name
select mote, measure, from_at, median(value) as value
from work.mote_hour
where mote in (from reached select mote)
group by all;
