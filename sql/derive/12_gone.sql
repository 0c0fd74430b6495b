-- Bursts in hand that are no longer what they were.
create or replace temp table gone as
select old.burst, old.mote, old.sampled_at
from burst as old
join work.mote_period as period on period.mote = old.mote and period.bucket = $bucket
left join work.course as course on course.mote = old.mote
anti join burst_in_hand as new
    on new.burst = old.burst and new.boot = old.boot and new.sampled_at = old.sampled_at
    and new.time_quality = old.time_quality
    and new.battery_v is not distinct from old.battery_v and new.rssi_dbm is not distinct from old.rssi_dbm
where course.mote is null or (old.boot = course.boot and old.seq >= course.seq_from)
