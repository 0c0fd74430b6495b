select
    d.zone, d.measure, epoch_us(d.minute_at) // 300000000 as bin_number,
    sum(d.motes * d.value) / sum(d.motes) as value, sum(d.motes)::bigint as minutes,
    max(d.highest) as highest, min(d.lowest) as lowest
from series.zone_departure d
where (of_measure is null or d.measure = of_measure) and (in_zone is null or d.zone = in_zone)
    and d.minute_at >= coalesce(cast(from_at as timestamptz), '-infinity')
    and d.minute_at < coalesce(cast(to_at as timestamptz), 'infinity')
group by d.zone, d.measure, bin_number
