-- Every numbered hearing with the start of its boot.
create or replace temp table booted as
select hearing, mote, seq, heard_us, gateway, period_us, drift_ns, boot_us, true as is_certain, false as is_torn
from placed
where is_on_time
union all
select hearing, placed.mote, placed.seq, heard_us, gateway, period_us, drift_ns, stray_boot.boot_us,
       stray_boot.is_certain, stray.is_torn
from placed
join stray_boot using (hearing)
join stray using (hearing)
