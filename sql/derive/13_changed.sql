-- Bursts in hand that are new, or no longer what they were.
create or replace temp table changed as
select new.*
from burst_in_hand as new
anti join burst as old
    on new.burst = old.burst and new.boot = old.boot and new.sampled_at = old.sampled_at
    and new.time_quality = old.time_quality
    and new.battery_v is not distinct from old.battery_v and new.rssi_dbm is not distinct from old.rssi_dbm
