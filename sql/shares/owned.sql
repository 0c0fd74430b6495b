-- What a share answers for of what stands in its warehouse: the rows of a mote within its tenure. Zones are whole.
create or replace view work.owned_burst as
select burst.* from burst
join work.tenure as tenure on tenure.mote = burst.mote and burst.sampled_at >= tenure.from_at and burst.sampled_at < tenure.to_at;
create or replace view work.owned_reading as
select reading.* from reading
join work.tenure as tenure on tenure.mote = reading.mote and reading.sampled_at >= tenure.from_at and reading.sampled_at < tenure.to_at;
create or replace view work.owned_mote_minute as
select minute.* from mote_minute as minute
join work.tenure as tenure on tenure.mote = minute.mote and minute.minute_at >= tenure.from_at and minute.minute_at < tenure.to_at;
create or replace view work.owned_zone_minute as from main.zone_minute;
