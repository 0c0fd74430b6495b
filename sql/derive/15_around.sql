-- Bursts that stay as they are, but close enough to a change for their readings to be looked at again.
create or replace temp table around as
select
    burst.burst, burst.mote, burst.boot, burst.seq,
    burst.sampled_at >= reach.from_at - 2 * $near and burst.sampled_at <= reach.to_at + 2 * $near as is_near
from burst
join reach on reach.mote = burst.mote
    and burst.sampled_at >= reach.from_at - $margin and burst.sampled_at <= reach.to_at + $margin
anti join changed on changed.burst = burst.burst
where burst.sampled_at >= $from_at - $margin and burst.sampled_at <= $to_at + $margin
