-- Motes that just went on: all that is new of them extends their latest boot at its end, and bears upon nothing
-- before seq_from. Of such a mote only the hearings from there on need be looked at; of any other, all.
--   Each new hearing is numbered, is not older than seq_from, and is none that a late hearing might repeat.
--   It is on time to the start, which it may have widened (hearings within a second of each other show one start), to
--   where no older hearing lies; and not so far that it might have shown a later start.
--   It bounds no sampling time from above that hearings from seq_from on did not bound as low: a bound that is
--   not the least at one burst is not the least at any burst before.
create or replace temp table going_on as
with new as (
    select
        hearing.mote, hearing.seq, epoch_us(hearing.received_at) as heard_us,
        heard_us - hearing.seq * period.period_us as start_us,
        heard_us * 1000 - hearing.seq * (period.period_us * 1000 - period.drift_ns) as fast_ns
    from work.hearing
    join work.mote_period as period using (mote)
    where hearing.batch in (select unnest($batches)) and hearing.object in (select unnest($objects))
),
fresh as (
    select
        mote, count(*) as hearings, bool_or(seq is null) as has_unnumbered, min(seq) as seq_low,
        min(start_us) as low_us, max(start_us) as high_us, min(fast_ns) as fast_ns
    from new
    group by mote
),
crowd as (
    select mote, min(start_us) as low_us, max(start_us) as high_us, max(heard_us) as last_us, false as is_course
    from new
    where seq is not null
    group by mote, start_us // 1000000
    union all
    select mote, low_us, high_us, last_us, true from work.course where mote in (select mote from fresh)
),
parted as (
    select *,
        low_us - max(high_us) over (
            partition by mote order by low_us rows between unbounded preceding and 1 preceding
        ) > 1000000 as is_apart
    from crowd
),
grouped as (
    select *, count(*) filter (is_apart) over (partition by mote order by low_us rows unbounded preceding) as cluster
    from parted
),
widened as (
    select mote, min(low_us) as low_us, max(high_us) as high_us, max(last_us) as last_us
    from grouped
    group by mote, cluster
    having bool_or(is_course)
),
beyond as (
    select crowd.mote, min(crowd.low_us) as above_us
    from crowd
    join widened on widened.mote = crowd.mote and crowd.low_us > widened.high_us
    group by crowd.mote
)
select
    course.mote, fresh.hearings, widened.low_us, widened.high_us, widened.last_us,
    least(course.above_us, beyond.above_us) as above_us
from work.course as course
join fresh using (mote)
join widened using (mote)
left join beyond using (mote)
where course.mote in (select unnest($motes)) and not fresh.has_unnumbered
    and fresh.seq_low >= course.seq_from and fresh.seq_low > coalesce(course.late_seq, -1)
    and fresh.low_us >= widened.low_us
    and (widened.low_us = course.low_us
        or (widened.low_us > coalesce(course.floor_us, widened.low_us - 1)
            and coalesce(course.below_us < widened.low_us - 1000000, true)))
    and fresh.high_us <= widened.high_us + 3000000
    and (widened.high_us = course.high_us or coalesce(course.above_us > widened.high_us + 3000000, true))
    and widened.high_us + 3000000 < course.last_us
    and fresh.fast_ns >= course.fast_ns
