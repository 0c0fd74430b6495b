create or replace temp table booted as
select hearing, hand.mote, hand.seq, heard_us, gateway, period_us, drift_ns, course.low_us as boot_us,
       true as is_certain, hand.is_torn
from hearing_in_hand as hand
join work.course using (mote)
