-- Where motes are compared anew, measure by measure, and which were found odd there: none so far.
create or replace temp table compared as
select reached.measure, any_value(measure.max_step) as max_step,
       -- The ten minutes in which the reach begins are compared whole.
       min(reached.from_at) - interval '10 minutes' as from_at, max(reached.to_at) + interval '40 minutes' as to_at
from work.reached
join measure using (measure)
group by reached.measure;
create or replace temp table odd_in_hand as select mote, measure, bucket_at from work.odd limit 0
