-- Bursts with a reading in a run of one value that lasts longer than flat_after_min. What was not heard may have been
-- the same: a gap ends a run only where it is longer than that time itself (and than ten periods).
create or replace temp table flat_burst as
with read as (
    from (
        select
            burst, mote, sampled_at, period_us,
            reading_<measure>,
        from course
        where mote in (select mote from doubtful)
    )
    unpivot (value for measure in (
        reading_<measure> as '<measure>'
    ))
),
stepped as (
    select
        read.burst, read.mote, read.sampled_at, read.measure,
        round(measure.flat_after_min * 60000000) as flat_us,
        read.value is distinct from lag(read.value) over in_time
            or epoch_us(read.sampled_at) - epoch_us(lag(read.sampled_at) over in_time) > greatest(flat_us, 10 * read.period_us)
            as is_beginning
    from read
    semi join doubtful using (mote, measure)
    join measure using (measure)
    window in_time as (partition by read.mote, read.measure order by read.sampled_at, read.burst)
),
numbered as (
    select *, count(*) filter (is_beginning) over (partition by mote, measure order by sampled_at, burst) as run
    from stepped
),
flat as (
    select mote, measure, run
    from numbered
    group by mote, measure, run
    having epoch_us(max(sampled_at)) - epoch_us(min(sampled_at)) > any_value(flat_us)
)
select
    numbered.burst,
    bool_or(numbered.measure = '<measure>') as is_flat_<measure>,
from numbered
semi join flat using (mote, measure, run)
group by numbered.burst
