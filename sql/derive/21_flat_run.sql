-- Runs of one value that last longer than flat_after. A gap of more than ten periods ends a run.
create or replace temp table flat_run as
with beginning as (
    select mote, sampled_at, sampled_before_at
    from (
        select
            candidate.mote, sampled_at, value, period.period_us,
            lag(sampled_at) over course as sampled_before_at,
            lag(value) over course as value_before
        from candidate
        join work.mote_period as period using (mote)
        where $flat_after_min is not null
        window course as (partition by candidate.mote order by sampled_at, burst)
    )
    where value is distinct from value_before or epoch_us(sampled_at) - epoch_us(sampled_before_at) > 10 * period_us
),
last as (
    select mote, max(sampled_at) as sampled_at from candidate group by mote
),
run as (
    select
        beginning.mote, beginning.sampled_at as from_at,
        coalesce(
            lead(beginning.sampled_before_at) over (partition by beginning.mote order by beginning.sampled_at),
            last.sampled_at) as to_at
    from beginning
    join last using (mote)
)
select mote, from_at, to_at from run where to_at - from_at > $flat_after
