-- Motes that just went on: all that is new of them extends their latest boot at its end, and bears upon nothing
-- before seq_from. Of such a mote only the hearings from there on need be looked at; of any other, all.
--   Each new hearing is numbered, is not older than seq_from, and is none that a late hearing might repeat.
--   It is on time, and lies so near the start that it widens it at most, to where no other hearing lies (within the
--   second that makes two starts one, and the three seconds that are still on time).
--   It bounds no sampling time from above that hearings from seq_from on did not bound as low: a bound that is
--   not the least at one burst is not the least at any burst before.
create or replace temp table going_on as
with fresh as (
    select
        hearing.mote,
        bool_or(hearing.seq is null) as has_unnumbered,
        min(hearing.seq) as seq_low,
        min(epoch_us(hearing.received_at) - hearing.seq * period.period_us) as low_us,
        max(epoch_us(hearing.received_at) - hearing.seq * period.period_us) as high_us,
        min(epoch_us(hearing.received_at) * 1000 - hearing.seq * (period.period_us * 1000 - period.drift_ns)) as fast_ns
    from work.hearing
    join work.mote_period as period using (mote)
    where hearing.batch in (select unnest($batches)) and hearing.object in (select unnest($objects))
    group by hearing.mote
)
select course.mote, least(course.low_us, fresh.low_us) as low_us, greatest(course.high_us, fresh.high_us) as high_us
from work.course as course
join fresh using (mote)
where course.mote not in (select unnest($motes_left)) and not fresh.has_unnumbered
    and fresh.seq_low >= course.seq_from and fresh.seq_low > coalesce(course.late_seq, -1)
    and fresh.low_us >= course.low_us - 1000000 and fresh.high_us <= course.high_us + 1000000
    and (fresh.low_us >= course.low_us
        or (fresh.low_us > coalesce(course.floor_us, fresh.low_us - 1)
            and coalesce(course.below_us < fresh.low_us - 1000000, true)))
    and (fresh.high_us <= course.high_us or coalesce(course.above_us > fresh.high_us + 3000000, true))
    and fresh.fast_ns >= course.fast_ns
