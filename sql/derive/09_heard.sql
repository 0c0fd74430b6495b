-- Every hearing with the burst it belongs to: (mote, boot_us, seq), or parcel where the mote does not count.
create or replace temp table heard as
select
    timed.hearing, timed.mote, timed.boot_us, timed.seq, null::bigint as parcel, timed.heard_us, timed.gateway,
    timed.sampled_ms, timed.is_shared, timed.is_torn,
    case
        when not timed.is_certain then 'uncertain'
        -- What arrives more than half a period late was heard only in a flush: its neighbours bound its time.
        when min(timed.heard_us) over (partition by timed.mote, timed.boot_us, timed.seq)
            - timed.sampled_ms * 1000 > timed.period_us // 2 then 'bounded'
        else 'fitted'
    end as time_quality
from timed
union all
select hearing, mote, null, null, parcel, heard_us, gateway,
       min(heard_us) over (partition by parcel) // 1000, is_shared, is_torn, 'received'
from unnumbered
