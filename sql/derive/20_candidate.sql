-- Readings of one measure in one slice of time, with as much around them as the tests look at.
create or replace temp table candidate as
select burst, mote, boot, seq, sampled_at, value
from measured
where sampled_at >= $from_at - 2 * $margin and sampled_at < $to_at + 2 * $margin
union all
select reading.burst, reading.mote, burst.boot, burst.seq, reading.sampled_at, reading.value
from reading
join burst on burst.burst = reading.burst
join reach on reach.mote = reading.mote
    and reading.sampled_at >= reach.from_at - 2 * $margin and reading.sampled_at <= reach.to_at + 2 * $margin
anti join changed on changed.burst = reading.burst
anti join gone on gone.burst = reading.burst
where reading.measure = $measure
    and reading.sampled_at >= $from_at - 2 * $margin and reading.sampled_at < $to_at + 2 * $margin
    and burst.sampled_at >= $from_at - 2 * $margin and burst.sampled_at < $to_at + 2 * $margin
