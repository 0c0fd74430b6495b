-- bursts of each mote and hour
select mote, date_trunc('hour', sampled_at) as hour, count(*) as bursts
from burst
group by all
order by bursts
