-- Readings of runs of one value that last longer than flat_us. What was not heard may have been the same: a gap ends a
-- run only where it is longer than that time itself (and than ten periods).
create or replace temp table flat_burst as
with stepped as (
    select course.*,
        value is distinct from lag(value) over in_time
            or epoch_us(sampled_at) - epoch_us(lag(sampled_at) over in_time) > greatest($flat_us, 10 * period_us)
            as is_beginning
    from course
    where mote in (from doubtful)
    window in_time as (partition by mote order by sampled_at, burst)
),
numbered as (
    select *, count(*) filter (is_beginning) over (partition by mote order by sampled_at, burst) as run
    from stepped
),
run as (
    select mote, run
    from numbered
    group by mote, run
    having epoch_us(max(sampled_at)) - epoch_us(min(sampled_at)) > $flat_us
)
select numbered.burst from numbered semi join run using (mote, run)
