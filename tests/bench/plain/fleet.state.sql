-- bursts, last word, signal and share of flagged readings of each mote
select b.mote, b.bursts, b.last_at, b.rssi_dbm, u.left_out_share
from (
    select mote, count(*) as bursts, max(sampled_at) as last_at, 10 * log10(avg(pow(10, rssi_dbm / 10))) as rssi_dbm,
        arg_max(battery_v, sampled_at) as battery_v
    from burst
    group by mote
) b
join (select mote, sum(left_out) / sum(n + left_out) as left_out_share from mote_minute group by mote) u on u.mote = b.mote
order by b.last_at
