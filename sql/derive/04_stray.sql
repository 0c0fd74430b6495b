-- Hearings that came too late to show their boot by themselves, each with its message (battery and readings).
-- Readings of one burst may come in several hearings with one stamp; they are one message unless they disagree.
create or replace temp table stray as
with late as (
    select placed.hearing, placed.mote, placed.seq, placed.heard_us, placed.gateway, placed.start_us,
           columns('^reading_'), hand.battery_v as reading_
    from placed
    join hearing_in_hand as hand using (hearing)
    where not placed.is_on_time
),
own as (
    select hearing, mote, seq, heard_us, gateway, start_us, [*columns('^reading_')] as message from late
),
united as (
    select mote, seq, heard_us, gateway, [*columns('^reading_')] as message
    from (select mote, seq, heard_us, gateway, max(columns('^reading_')) from late group by all)
),
torn as (
    select mote, seq, heard_us, gateway, list_max([*columns('^values_')]) > 1 as is_torn
    from (
        select mote, seq, heard_us, gateway, count(distinct columns('^reading_(.*)')) as 'values_\1'
        from late
        group by mote, seq, heard_us, gateway
    )
)
select own.hearing, own.mote, own.seq, own.start_us, torn.is_torn,
       case when torn.is_torn then own.message else united.message end as message
from own
join united using (mote, seq, heard_us, gateway)
join torn using (mote, seq, heard_us, gateway)
