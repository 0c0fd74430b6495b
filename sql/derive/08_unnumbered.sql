-- Hearings without a seq, with the burst they belong to (named by one of its hearings): readings with one stamp are
-- one message unless they disagree, and the same message of a mote within half a period is one burst.
create or replace temp table unnumbered as
with own as (
    select hand.hearing, hand.mote, hand.heard_us, hand.gateway, hand.period_us, columns('^reading_')
    from hearing_in_hand as hand
    where hand.seq is null
),
united as (
    select mote, heard_us, gateway, [*columns('^reading_')] as message
    from (select mote, heard_us, gateway, max(columns('^reading_')) from own group by all)
),
torn as (
    select mote, heard_us, gateway, list_max([*columns('^values_')]) > 1 as is_torn
    from (
        select mote, heard_us, gateway, count(distinct columns('^reading_(.*)')) as 'values_\1'
        from own
        group by mote, heard_us, gateway
    )
),
said as (
    select own.hearing, own.mote, own.heard_us, own.gateway, own.period_us, torn.is_torn,
           case when torn.is_torn then own.message else united.message end as message
    from (select hearing, mote, heard_us, gateway, period_us, [*columns('^reading_')] as message from own) as own
    join united using (mote, heard_us, gateway)
    join torn using (mote, heard_us, gateway)
),
apart as (
    select *,
        heard_us - lag(heard_us) over (partition by mote, message order by heard_us) <= period_us // 2 as is_again
    from said
),
numbered as (
    select *,
        count(*) filter (is_again is not true) over (partition by mote, message order by heard_us) as burst_of_message
    from apart
)
select hearing, mote, heard_us, gateway, is_torn,
       min(hearing) over (partition by mote, message, burst_of_message) as parcel,
       count(*) over (partition by mote, message, burst_of_message) > 1 as is_shared
from numbered
