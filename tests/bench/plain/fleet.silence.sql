-- gaps of ten periods in what each mote sent: a gap reaches beyond the stretch of ten periods in which it begins
with spoken as (
    select mote, min(sampled_at) as first_at, max(sampled_at) as last_at
    from burst
    group by mote, epoch_us(sampled_at) // 200000000
)
select mote, last_at as from_at, lead(first_at) over (partition by mote order by first_at) as to_at
from spoken
qualify to_at - from_at > interval 200 seconds
order by to_at - from_at desc
