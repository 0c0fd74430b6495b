-- Sums are kept in whole numbers, so that they do not depend on the order of adding.
create or replace temp macro fixed(value) as try_cast(round(value * 1e12) as hugeint);
create or replace temp macro loose(total) as total::double / 1e12;
create or replace temp macro fixed_power(value) as try_cast(round(pow(10, value / 10) * 1e18) as hugeint);
create or replace temp macro loose_power(total) as 10 * log10(total::double / 1e18);
-- How many periods lie between two bursts: one between consecutive ones, more where some were lost; by the mote's own
-- count (counted), or by time where it does not count. NULL where there are more than four, or less than the time needs.
create or replace temp macro periods_in(time_us, period_us) as greatest(1, ceil(time_us / period_us - 0.5))::bigint;
create or replace temp macro periods_between(counted, time_us, period_us) as
    case
        when coalesce(counted, periods_in(time_us, period_us)) between periods_in(time_us, period_us) and 4
            then coalesce(counted, periods_in(time_us, period_us))
    end;
-- Up and down again, or down and up, each way by more than the largest credible change.
create or replace temp macro is_spike(before, value, after, change_before, change_after) as coalesce(
    (value - before) * (after - value) < 0
    and abs(value - before) > change_before and abs(value - after) > change_after,
    false
);
-- Tests that a reading did not pass are kept as one number: 1 span, 2 usual, 4 spike, 8 step, 16 flat, 32 odd;
-- 64 says that no test looked at it.
create or replace temp macro flag_of(failed) as (
    case when failed & 5 > 0 then 4 when failed & 58 > 0 then 3 when failed & 64 > 0 then 2 else 1 end
)::utinyint;
create or replace temp macro reason_of(failed) as
    case when failed & 63 > 0 then concat_ws('+',
        case when failed & 1 > 0 then 'span' end,
        case when failed & 2 > 0 then 'usual' end,
        case when failed & 4 > 0 then 'spike' end,
        case when failed & 8 > 0 then 'step' end,
        case when failed & 16 > 0 then 'flat' end,
        case when failed & 32 > 0 then 'odd' end) end;
-- Whole ten minutes, in which all minutes lie that a change at this time may bear upon.
create or replace temp macro scope_begin(from_at, margin) as time_bucket(interval '10 minutes', from_at - margin);
create or replace temp macro scope_end(to_at, margin) as
    time_bucket(interval '10 minutes', to_at + margin) + interval '10 minutes';
-- Multiplied by odd numbers without pattern (from memory: those of Knuth's MMIX generator), so that bursts of one path
-- do not meet.
create or replace temp macro id_of(path, heard_us, seq, told_apart) as (
    (
        path::hugeint
        + heard_us::hugeint * 6364136223846793005
        + coalesce(seq, -1)::hugeint * 1442695040888963407
        + coalesce(md5_number_lower(told_apart), 0)::hugeint
    ) & 9223372036854775807
)::bigint
