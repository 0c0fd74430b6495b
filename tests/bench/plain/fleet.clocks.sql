-- the line through all arrivals of each mote and boot
select mote, boot, regr_slope(epoch_us(received_at) / 1e6, seq) as period_s, count(*) as bursts
from burst
group by all
having bursts >= 100
order by period_s desc
