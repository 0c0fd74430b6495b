-- Readings with quality codes after QARTOD (1 pass, 2 not evaluated, 3 suspect, 4 fail) and the tests that did not pass.
--   span   outside what the sensor can report: fail; a value on the bound passes
--   usual  outside what the place can show: suspect
--   spike  up and down again (or down and up) by more than max_step in consecutive bursts: fail
--   step   changed by more than max_step since the burst before, which is no spike itself: suspect
--   flat   the same for longer than flat_after_min: the whole run suspect
--   odd    its mote went its own way among those of its zone (34_odd_in_hand): suspect
-- A threshold that is just reached passes. Whatever test looked at a reading evaluated it. Kept are the readings that
-- are new or whose flags are not what they were.
create or replace temp table flagged as
with tested as (
    select
        course.*,
        coalesce(value < $span_low or value > $span_high, false) as is_outside_span,
        coalesce(value < $usual_low or value > $usual_high, false) as is_unusual,
        is_spike(before, value, after, $max_step) as is_spike,
        coalesce(abs(value - before) > $max_step, false)
            and not is_spike(before, value, after, $max_step)
            and not is_spike(two_before, before, value, $max_step) as is_step,
        burst in (from flat_burst) as is_flat,
        odd.mote is not null as is_odd,
        coalesce($span_low, $span_high, $usual_low, $usual_high, $flat_after_min) is not null
            or ($max_step is not null and before is not null) as is_evaluated
    from course
    left join work.odd as odd
        on odd.measure = $measure and odd.mote = course.mote
        and odd.bucket_at = time_bucket(interval '10 minutes', course.sampled_at)
),
flagged_now as (
    select
        tested.burst, tested.mote, tested.sampled_at, tested.value, tested.flag_before, tested.reason_before,
        case
            when is_outside_span or is_spike then 4
            when is_unusual or is_step or is_flat or is_odd then 3
            when is_evaluated then 1
            else 2
        end::utinyint as flag,
        nullif(concat_ws('+',
            case when is_outside_span then 'span' end,
            case when is_unusual then 'usual' end,
            case when is_spike then 'spike' end,
            case when is_step then 'step' end,
            case when is_flat then 'flat' end,
            case when is_odd then 'odd' end), '') as reason
    from tested
    join reach using (mote)
    where tested.sampled_at >= $from_at and tested.sampled_at < $to_at
        and case when tested.mote in (from doubtful)
            then tested.sampled_at >= reach.from_at - $margin and tested.sampled_at <= reach.to_at + $margin
            else tested.sampled_at >= reach.from_at - $near and tested.sampled_at <= reach.to_at + $near end
)
select burst, mote, sampled_at, value, flag, reason
from flagged_now
where flag is distinct from flag_before or reason is distinct from reason_before
