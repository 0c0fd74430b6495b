-- Every hearing with the burst it belongs to: (mote, boot_us, seq), or parcel where the mote does not count.
create or replace temp table heard as
with numbered as (
    select *, heard_us as first_us from timed where not is_shared
    union all by name
    select *, min(heard_us) over (partition by mote, boot_us, seq) as first_us from timed where is_shared
)
select
    hearing, mote, boot_us, seq, null::bigint as parcel, heard_us, gateway, sampled_ms, is_shared, is_torn,
    case
        when not is_certain then 'uncertain'
        -- What arrives more than half a period late was heard only in a flush: its neighbours bound its time.
        when first_us - sampled_ms * 1000 > period_us // 2 then 'bounded'
        else 'fitted'
    end as time_quality
from numbered
union all
select hearing, mote, null, null, parcel, heard_us, gateway,
       min(heard_us) over (partition by parcel) // 1000, is_shared, is_torn, 'received'
from unnumbered
