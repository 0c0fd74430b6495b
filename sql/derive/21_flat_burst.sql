-- Readings of runs of one value that last longer than flat_after. A gap of more than ten periods ends a run.
create or replace temp table flat_burst as
with doubtful as (
    select course.*,
        value is distinct from lag(value) over in_time
            or epoch_us(sampled_at) - epoch_us(lag(sampled_at) over in_time) > 10 * period_us as is_beginning
    from course
    where mote in (select mote from course where may_be_flat)
    window in_time as (partition by mote order by sampled_at, burst)
),
numbered as (
    select *, count(*) filter (is_beginning) over (partition by mote order by sampled_at, burst) as run
    from doubtful
),
run as (
    select mote, run from numbered group by mote, run having max(sampled_at) - min(sampled_at) > $flat_after
)
select numbered.burst from numbered semi join run using (mote, run)
