-- Each burst with the tests that its readings did not pass, quality codes after QARTOD (1 pass, 2 not evaluated,
-- 3 suspect, 4 fail) following from them.
--   span   outside what the sensor can report: fail; a value on the bound passes
--   usual  outside what the place can show: suspect
--   spike  up and down again (or down and up), each way by more than max_step a period: fail. Up to three bursts may
--          have been lost on either side: a spike is seen by what came back, whatever was not heard
--   step   changed by more than max_step since the burst one period before, which is no spike itself: suspect
--   flat   the same for longer than flat_after_min: the whole run suspect
--   odd    its mote went its own way among those of its zone (36_odd_in_hand): suspect
-- A threshold that is just reached passes. Whatever test looked at a reading evaluated it.
-- What was measured within one hour stands together, here and in the readings: hour by hour it is published.
create or replace temp macro failed(
    value, before, two_before, after, periods_before, periods_two_before, periods_after,
    is_flat, is_odd, span_low, span_high, usual_low, usual_high, max_step, flat_after_min
) as (
    case when value < span_low or value > span_high then 1 else 0 end
    + case when value < usual_low or value > usual_high then 2 else 0 end
    + case
        when is_spike(before, value, after, periods_before * max_step, periods_after * max_step) then 4
        when periods_before = 1 and abs(value - before) > max_step
            and not is_spike(two_before, before, value, periods_two_before * max_step, max_step) then 8
        else 0
    end
    + case when is_flat then 16 else 0 end
    + case when is_odd then 32 else 0 end
    + case
        when coalesce(span_low, span_high, usual_low, usual_high, flat_after_min) is not null
            or (max_step is not null and before is not null and (periods_before = 1 or after is not null)) then 0
        else 64
    end
)::utinyint;
create or replace temp table judged as
with odd as (
    select
        mote, bucket_at,
        bool_or(measure = '<measure>') as is_odd_<measure>,
    from work.odd
    where mote in (select mote from scope)
    group by mote, bucket_at
),
beside as (
    select
        course.burst, course.mote, course.sampled_at, course.period_us,
        reading_<measure>,
        periods_before, periods_two_before, periods_after,
        case when periods_before is not null then before_<measure> end as before_<measure>,
        case when periods_two_before is not null then two_before_<measure> end as two_before_<measure>,
        case when periods_after is not null then after_<measure> end as after_<measure>,
        is_flat_<measure>,
        is_odd_<measure>,
    from course
    join scope on scope.mote = course.mote
        and course.sampled_at >= scope.from_at and course.sampled_at < scope.judged_to
    left join flat_burst on flat_burst.burst = course.burst
    left join odd on odd.mote = course.mote
        and odd.bucket_at = time_bucket(interval '10 minutes', course.sampled_at)
)
select
    burst, mote, sampled_at, period_us,
    reading_<measure>,
    failed(reading_<measure>, before_<measure>, two_before_<measure>, after_<measure>, periods_before, periods_two_before, periods_after, is_flat_<measure>, is_odd_<measure>, <span_low>, <span_high>, <usual_low>, <usual_high>, <max_step>, <flat_after_min>) as failed_<measure>,
from beside
order by epoch_us(sampled_at) // 3600000000
