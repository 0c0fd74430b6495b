-- dew point of each zone and minute by the same formula
with minute as (
    select
        zone, minute_at, avg(value) filter (measure = 'temperature') as temperature_c,
        avg(value) filter (measure = 'relative_humidity') as relative_humidity
    from mote_minute
    where measure in ('temperature', 'relative_humidity') and zone is not null
    group by all
)
select
    *, ln(relative_humidity / 100 * exp(17.62 * temperature_c / (243.12 + temperature_c))) as x,
    243.12 * x / (17.62 - x) as dew_point_c
from minute
where relative_humidity > 0
