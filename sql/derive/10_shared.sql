-- Bursts heard more than once, hearing by hearing in their own order: the first one speaks for the burst, a later one
-- brings something new where it holds a reading that none before it held. Object and line only tell equals apart.
create or replace temp table shared as
with told as (
    select heard.*, hand.battery_v, hand.rssi_dbm, hand.object, hand.line, [*columns('^reading_')] as message
    from heard
    join hearing_in_hand as hand using (hearing)
    where heard.is_shared
),
turned as (
    select *,
        row_number() over (
            partition by mote, boot_us, seq, parcel
            order by heard_us, gateway, message, battery_v, rssi_dbm, object, line
        ) as turn,
        dense_rank() over (partition by mote, boot_us, seq, parcel order by heard_us, gateway) as stamp
    from told
),
united as (
    select *,
        coalesce(list_transform(
            range(1, len(message) + 1),
            lambda place: len(list_filter(messages_before, lambda other: other[place] is not null)) > 0
        ), []) as was_held
    from (
        select *,
            list(message) over (
                partition by mote, boot_us, seq, parcel order by turn rows between unbounded preceding and 1 preceding
            ) as messages_before
        from turned
    )
)
select
    hearing, mote, boot_us, seq, parcel, turn, stamp, message,
    turn = 1 or len(list_filter(
        range(1, len(message) + 1),
        lambda place: message[place] is not null and not was_held[place]
    )) > 0 as is_new
from united
