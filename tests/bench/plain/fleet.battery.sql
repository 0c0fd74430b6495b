-- a line through the last day of each mote's voltage
select mote, regr_slope(battery_v, epoch(sampled_at)) * 86400 as slope, arg_max(battery_v, sampled_at) as last_v
from burst
where battery_v is not null and sampled_at > (select max(sampled_at) - interval 1 day from burst)
group by mote
order by slope
