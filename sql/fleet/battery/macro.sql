with last_word as (
    select max(b.sampled_at) as at_last from burst b
),
hourly as (
    select
        b.mote, (epoch(b.sampled_at)::bigint // 3600)::double as hour_number,
        median(b.battery_v) as voltage
    from burst b
    cross join last_word l
    where b.battery_v is not null and b.sampled_at > l.at_last - to_minutes(fit_min)
    group by b.mote, hour_number
),
fitted as (
    select
        h.mote, count(*) as n, avg(h.hour_number) as middle, avg(h.voltage) as mean_v, arg_max(h.voltage, h.hour_number) as last_v,
        regr_slope(h.voltage, h.hour_number - 500000) as slope,
        sqrt(greatest(0, regr_syy(h.voltage, h.hour_number - 500000) * (1 - coalesce(regr_r2(h.voltage, h.hour_number - 500000), 0)))
            / nullif(count(*) - 2, 0)) as scatter,
        regr_sxx(h.voltage, h.hour_number - 500000) as spread
    from hourly h
    group by h.mote
),
ahead as (
    select
        f.*, m.network, m.power, epoch(c.ends_at) / 3600 as end_number,
        f.mean_v + f.slope * (epoch(c.ends_at) / 3600 - 0.5 - f.middle) as end_v,
        f.scatter * sqrt(1 + 1.0 / f.n + (epoch(c.ends_at) / 3600 - 0.5 - f.middle) ** 2 / nullif(f.spread, 0))
            * statistics.t_quantile(f.n - 2) as margin
    from fitted f
    join mote m on m.mote = f.mote
    cross join campaign c
    where coalesce(m.power, 'battery') <> 'mains'
)
select
    a.network, a.mote, a.last_v as battery_v, a.slope * 24 as slope_v_per_day,
    a.end_v, a.end_v - a.margin as low, a.end_v + a.margin as high,
    case
        when a.last_v <= lowest_v then 'empty'
        when a.end_v <= lowest_v then 'will not last'
        when a.end_v - a.margin <= lowest_v then 'may not last'
        when a.margin is null then 'too little to say'
        else 'lasts'
    end as outlook,
    case when a.slope < 0 and a.end_v <= lowest_v
        then make_timestamptz(((a.middle + 0.5 + (lowest_v - a.mean_v) / a.slope) * 3600000000)::bigint) end as empty_at,
    a.n
from ahead a
order by list_position(['empty', 'will not last', 'may not last', 'too little to say', 'lasts'], outlook), a.end_v, a.mote
