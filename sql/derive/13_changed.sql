-- Bursts in hand that are new, or no longer what they were; and of those that stood there, the ones that go.
create or replace temp view changed as
select new.*
from burst_in_hand as new
anti join stored_burst as old
    on new.burst = old.burst and new.boot = old.boot and new.sampled_at = old.sampled_at
    and new.time_quality = old.time_quality
    and new.battery_v is not distinct from old.battery_v and new.rssi_dbm is not distinct from old.rssi_dbm;
create or replace temp view gone as
select old.*
from stored_burst as old
anti join burst_in_hand as new
    on new.burst = old.burst and new.boot = old.boot and new.sampled_at = old.sampled_at
    and new.time_quality = old.time_quality
    and new.battery_v is not distinct from old.battery_v and new.rssi_dbm is not distinct from old.rssi_dbm;
