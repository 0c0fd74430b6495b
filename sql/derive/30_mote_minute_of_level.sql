-- Minutes of levels, ratios and decibels: means of what was measured within the minute.
create or replace temp table minute_in_hand as
select
    reading.mote,
    date_trunc('minute', reading.sampled_at) as minute_at,
    count(*) filter (reading.flag <= 2) as n,
    count(*) filter (reading.flag > 2) as left_out,
    least(60, count(*) filter (reading.flag <= 2) * any_value(period.period_us) / 1e6) as covered_s,
    case $kind
        when 'decibel' then loose_power(sum(fixed_power(reading.value)) filter (reading.flag <= 2)
            / count(*) filter (reading.flag <= 2))
        else loose(sum(fixed(reading.value)) filter (reading.flag <= 2)) / nullif(count(*) filter (reading.flag <= 2), 0)
    end as value,
    min(reading.value) filter (reading.flag <= 2) as low,
    max(reading.value) filter (reading.flag <= 2) as high
from reading
join work.mote_period as period using (mote)
where reading.measure = $measure and reading.sampled_at >= $from_at and reading.sampled_at < $to_at
    and reading.mote in (from moved select mote)
group by all
