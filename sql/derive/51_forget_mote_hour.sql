delete from work.mote_hour
using reached
where mote_hour.mote = reached.mote and mote_hour.measure = reached.measure
    and mote_hour.hour_at >= date_trunc('hour', reached.from_at)
    and mote_hour.hour_at <= date_trunc('hour', reached.to_at)
