-- compared by mote, boot, bursts
-- the line below all arrivals of each mote and boot that is highest at their middle, through the earliest of each 64th part
with life as materialized (
    select
        mote, boot, count(*) as bursts, min(seq) as first_seq, max(seq) as last_seq, avg(seq) - first_seq as middle,
        min(received_at) as first_at
    from burst
    where seq is not null
    group by mote, boot
    having bursts >= 100 and last_seq > first_seq
),
period as (select mote, coalesce(mote.burst_period_s, campaign.burst_period_s) as period_s from mote cross join campaign),
corner as materialized (
    select mote, boot, earliest.steps as steps, earliest.late_s as late_s, middle
    from (
        select mote, boot, min({'late_s': late_s, 'steps': steps}) as earliest
        from (
            select
                mote, boot, seq - first_seq as steps, (seq - first_seq) * 64 // (last_seq - first_seq + 1) as stretch,
                (epoch_us(received_at) - epoch_us(first_at)) / 1e6 - (seq - first_seq) * period_s as late_s
            from burst
            join (select * from life join period using (mote)) life using (mote, boot)
            where seq is not null
        )
        group by mote, boot, stretch
    )
    join life using (mote, boot)
),
edge as (
    select
        mote, boot,
        arg_min(
            (j.late_s - i.late_s) / (j.steps - i.steps),
            i.late_s + (j.late_s - i.late_s) / (j.steps - i.steps) * (i.middle - i.steps)
        ) as slope
    from corner i
    join corner j using (mote, boot)
    where i.steps < i.middle and j.steps >= i.middle
    group by mote, boot
)
select mote, boot, bursts, period_s + slope as period_s, slope / period_s * 1e6 as drift_ppm
from edge
join life using (mote, boot)
join period using (mote)
order by abs(drift_ppm) desc
