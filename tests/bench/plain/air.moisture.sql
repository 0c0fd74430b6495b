-- compared by zone, minute_at
-- dew point of each zone and minute by the same formula
select
    zone, minute_at, t.value as temperature_c, h.value as relative_humidity,
    ln(relative_humidity / 100 * exp(17.62 * temperature_c / (243.12 + temperature_c))) as x,
    243.12 * x / (17.62 - x) as dew_point_c
from (select zone, minute_at, value from zone_minute where measure = 'temperature') t
join (select zone, minute_at, value from zone_minute where measure = 'relative_humidity') h using (zone, minute_at)
where relative_humidity > 0
