-- Bursts that stay as they are, but near enough to a change for their readings to be looked at again.
create or replace temp table around as
select burst.burst, burst.boot, burst.seq
from burst
join reach on reach.mote = burst.mote
    and burst.sampled_at >= reach.from_at - $margin and burst.sampled_at <= reach.to_at + $margin
anti join changed on changed.burst = burst.burst
where burst.sampled_at >= $from_at - $margin and burst.sampled_at <= $to_at + $margin
