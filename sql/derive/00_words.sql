-- Sums are kept in whole numbers, so that they do not depend on the order of adding.
create or replace temp macro fixed(value) as try_cast(round(value * 1e12) as hugeint);
create or replace temp macro loose(total) as total::double / 1e12;
create or replace temp macro fixed_power(value) as try_cast(round(pow(10, value / 10) * 1e18) as hugeint);
create or replace temp macro loose_power(total) as 10 * log10(total::double / 1e18);
-- Consecutive bursts: by the mote's own count, or by time where it does not count.
create or replace temp macro is_next(seq, next_seq, sampled_at, next_at, period_us) as
    coalesce(next_seq = seq + 1, seq is null and next_seq is null)
    and epoch_us(next_at) - epoch_us(sampled_at) <= 3 * period_us // 2;
-- Up and down again, or down and up, by more than the largest credible step each way.
create or replace temp macro is_spike(before, value, after, max_step) as
    coalesce((value - before) * (after - value) < 0 and least(abs(value - before), abs(value - after)) > max_step, false);
