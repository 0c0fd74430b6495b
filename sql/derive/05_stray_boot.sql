-- The boot of each stray message: the latest start that already has it; failing that, the latest start in which
-- its seq is free; failing that, a boot of its own with the strays heard within 3 s of it.
create or replace temp table stray_boot as
with known as (
    select stray.hearing, max(placed.boot_us) as boot_us
    from stray
    join placed on placed.mote = stray.mote and placed.seq = stray.seq and placed.is_on_time
        and placed.boot_us <= stray.start_us
    join hearing_in_hand as hand on hand.hearing = placed.hearing
    where list_concat([*columns('^reading_')], [hand.battery_v]) = stray.message
    group by stray.hearing
),
message as (
    select mote, seq, message, max(start_us) as start_us,
           row_number() over (partition by mote, seq order by max(start_us) desc, message) as turn
    from stray
    anti join known using (hearing)
    group by mote, seq, message
),
free as (
    select message.mote, message.seq, message.message, message.turn, start.low_us as boot_us,
           row_number() over (partition by message.mote, message.seq, message.turn order by start.low_us desc) as turn_of_start
    from message
    join start on start.mote = message.mote and start.low_us <= message.start_us
    anti join (select mote, seq, boot_us as low_us from placed where is_on_time) as taken
        on taken.mote = message.mote and taken.seq = message.seq and taken.low_us = start.low_us
),
lone as (
    select message.mote, message.seq, message.message, message.start_us
    from message
    anti join free on free.mote = message.mote and free.seq = message.seq and free.turn = message.turn
        and free.turn_of_start = message.turn
),
lone_apart as (
    select *, coalesce(start_us - lag(start_us) over (partition by mote order by start_us, seq, message) > 3000000, true) as is_apart
    from lone
),
lone_boot as (
    select mote, seq, message,
           max(case when is_apart then start_us end) over (partition by mote order by start_us, seq, message) as boot_us
    from lone_apart
)
select hearing, boot_us, true as is_certain from known
union all
select stray.hearing, free.boot_us, true
from stray
join free on free.mote = stray.mote and free.seq = stray.seq and free.message = stray.message and free.turn_of_start = free.turn
anti join known on known.hearing = stray.hearing
union all
select stray.hearing, lone_boot.boot_us, false
from stray
join lone_boot using (mote, seq, message)
anti join known on known.hearing = stray.hearing
