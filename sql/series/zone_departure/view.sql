select d.zone, any_value(z.level) as level, d.measure, d.minute_at, count(*)::integer as motes, avg(d.value) as value
from series.mote_departure d
left join zone z on z.zone = d.zone
group by d.zone, d.measure, d.minute_at
