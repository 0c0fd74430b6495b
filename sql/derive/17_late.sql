-- Late hearings that belong to the latest boot of their mote.
insert into work.late by name
select hand.object, hand.line, hand.mote, stray.is_torn
from stray
join stray_boot using (hearing)
join work.course as course on course.mote = stray.mote and course.low_us = stray_boot.boot_us
join hearing_in_hand as hand using (hearing)
where stray_boot.is_certain
