select d.zone, z.level, d.measure, d.minute_at, d.motes, d.value, d.highest, d.lowest
from (
    select
        m.zone, m.measure, m.minute_at, count(*)::integer as motes, avg(m.value) as value,
        max(m.value) as highest, min(m.value) as lowest
    from series.mote_departure m
    group by m.zone, m.measure, m.minute_at
) d
left join zone z on z.zone = d.zone
