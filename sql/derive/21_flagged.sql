-- Quality codes after QARTOD (1 pass, 2 not evaluated, 3 suspect, 4 fail) with the tests that did not pass.
--   span   outside what the sensor can report: fail; a value on the bound passes
--   usual  outside what the place can show: suspect
--   spike  up and down again (or down and up) by more than max_step within consecutive bursts: fail
--   step   changed by more than max_step since the burst before, which is no spike: suspect
--   flat   the same for longer than flat_after_min: the whole run suspect
create or replace temp table flagged as
with neighbour as (
    select
        candidate.burst, candidate.mote, candidate.sampled_at, candidate.value,
        case when is_next(lag(seq) over course, seq, lag(sampled_at) over course, sampled_at, period.period_us)
            then lag(value) over course end as value_before,
        case when is_next(seq, lead(seq) over course, sampled_at, lead(sampled_at) over course, period.period_us)
            then lead(value) over course end as value_after,
        value is distinct from lag(value) over course
            or epoch_us(sampled_at) - epoch_us(lag(sampled_at) over course) > 10 * period.period_us as is_fresh
    from candidate
    join work.mote_period as period using (mote)
    window course as (partition by mote order by sampled_at, burst)
),
jump as (
    select
        *,
        coalesce(
            (value - value_before) * (value_after - value) < 0
            and least(abs(value - value_before), abs(value - value_after)) > $max_step, false) as is_spike,
        count(*) filter (is_fresh) over (partition by mote order by sampled_at, burst) as run
    from neighbour
),
tested as (
    select
        burst, mote, sampled_at, value,
        coalesce(value < $span_low or value > $span_high, false) as is_outside_span,
        coalesce(value < $usual_low or value > $usual_high, false) as is_unusual,
        is_spike,
        not is_spike and coalesce(abs(value - value_before) > $max_step, false)
            and not coalesce(lag(is_spike) over course, false) as is_step,
        $flat_after is not null
            and max(sampled_at) over (partition by mote, run) - min(sampled_at) over (partition by mote, run) > $flat_after
            as is_flat,
        coalesce($span_low, $span_high, $usual_low, $usual_high) is not null or $flat_after is not null
            or ($max_step is not null and value_before is not null) as is_evaluated
    from jump
    window course as (partition by mote order by sampled_at, burst)
)
select
    tested.burst, tested.mote, $measure as measure, tested.sampled_at, tested.value,
    case
        when is_outside_span or is_spike then 4
        when is_unusual or is_step or is_flat then 3
        when is_evaluated then 1
        else 2
    end::utinyint as flag,
    nullif(concat_ws('+',
        case when is_outside_span then 'span' end,
        case when is_unusual then 'usual' end,
        case when is_spike then 'spike' end,
        case when is_step then 'step' end,
        case when is_flat then 'flat' end), '') as reason
from tested
join reach using (mote)
where tested.sampled_at >= $from_at and tested.sampled_at < $to_at
    and tested.sampled_at >= reach.from_at - $margin and tested.sampled_at <= reach.to_at + $margin
