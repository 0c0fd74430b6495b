-- The bursts that stood for the hearings in hand so far. Of motes that just went on, those of their window.
create or replace temp table stored_burst as
select burst.rowid as place, burst.*
from burst
join work.mote_period as period on period.mote = burst.mote and period.bucket = $bucket
left join work.course as course on course.mote = burst.mote
where burst.sampled_at >= $seen_from
    and (course.mote is null or (burst.boot = course.boot and burst.seq >= course.seq_from))
