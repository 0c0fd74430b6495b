-- The bursts of the motes in hand with their readings. A burst's id comes from its earliest hearing: mote and gateway
-- give a number, to which time and seq add theirs, multiplied so that they use all 63 bits. The readings enter it only
-- where they are needed to tell bursts apart, or where another hearing added to them or spoke before it under the same
-- stamp.
create or replace temp table burst_in_hand as
with alone as (
    select
        heard.mote, heard.boot_us, heard.seq, heard.parcel, heard.heard_us, heard.gateway, heard.sampled_ms,
        heard.time_quality, hand.rssi_dbm, hand.battery_v, hand.batch,
        case when heard.is_torn then [*columns('^reading_')]::varchar end as told_apart,
        columns('^reading_')
    from heard
    join hearing_in_hand as hand using (hearing)
    where not heard.is_shared
),
several as (
    select
        heard.mote, heard.boot_us, heard.seq, heard.parcel,
        arg_min(heard.heard_us, shared.turn) as heard_us,
        arg_min(heard.gateway, shared.turn) as gateway,
        arg_min(heard.sampled_ms, shared.turn) as sampled_ms,
        arg_min(heard.time_quality, shared.turn) as time_quality,
        arg_min(hand.rssi_dbm, shared.turn) as rssi_dbm,
        arg_min(hand.battery_v, shared.turn) as battery_v,
        arg_min(hand.batch, shared.turn) as batch,
        bool_or(heard.is_torn) or count(distinct shared.message) filter (shared.stamp = 1) > 1 as is_torn,
        arg_min(shared.message, shared.turn) as first_message,
        arg_min(columns('^reading_'), shared.turn)
    from heard
    join shared using (hearing)
    join hearing_in_hand as hand using (hearing)
    group by heard.mote, heard.boot_us, heard.seq, heard.parcel
),
whole as (
    select * from alone
    union all by name
    select
        * exclude (is_torn, first_message),
        case
            when is_torn or [*columns('^reading_')] is distinct from first_message
            then [*columns('^reading_')]::varchar
        end as told_apart
    from several
),
path as (
    select mote, gateway, md5_number_lower(concat_ws('|', mote, gateway)) as number
    from (select distinct mote, gateway from whole)
),
ranked as (
    select mote, boot_us, dense_rank() over (partition by mote order by boot_us) - 1 as boot
    from (select distinct mote, boot_us from whole where boot_us is not null)
)
select
    id_of(path.number, whole.heard_us, whole.seq, told_apart) as burst,
    whole.mote,
    coalesce(course.boot, ranked.boot, 0)::integer as boot,
    whole.seq,
    nullif(whole.gateway, '') as gateway,
    make_timestamptz(whole.heard_us) as received_at,
    make_timestamptz(whole.sampled_ms * 1000) as sampled_at,
    whole.time_quality,
    (whole.heard_us - whole.sampled_ms * 1000) / 1e6 as delay_s,
    whole.rssi_dbm,
    whole.battery_v,
    whole.batch,
    columns('^reading_')
from whole
join path using (mote, gateway)
left join ranked using (mote, boot_us)
-- Only motes that just went on have their course now: of the others all boots are in hand.
left join work.course as course on course.mote = whole.mote
