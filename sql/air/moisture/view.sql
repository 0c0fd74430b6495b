with pair as (
    select
        t.zone, t.level, t.minute_at, least(t.motes, h.motes) as motes, t.value as temperature_c,
        h.value * case when h.unit = '/' then 100 else 1 end as relative_humidity
    from (
        select z.zone, z.level, z.minute_at, z.motes, z.value - case when m.unit = 'K' then 273.15 else 0 end as value
        from zone_minute z
        join measure m on m.measure = z.measure
        where m.role = 'temperature'
    ) t
    join (
        select z.zone, z.minute_at, z.motes, z.value, m.unit
        from zone_minute z
        join measure m on m.measure = z.measure
        where m.role = 'relative_humidity'
    ) h on h.zone = t.zone and h.minute_at = t.minute_at
)
select
    b.zone, b.level, b.minute_at, b.motes, b.temperature_c, b.relative_humidity,
    air.dew_point_c(b.temperature_c, b.relative_humidity) as dew_point_c,
    air.absolute_humidity_g_m3(b.temperature_c, b.relative_humidity) as absolute_humidity_g_m3
from pair b
