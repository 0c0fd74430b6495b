with life as (
    select
        s.*, coalesce(m.burst_period_s, c.burst_period_s) as period_s, c.drift_ppm as limit_ppm
    from (
        select
            b.mote, b.boot, count(*) as bursts, min(b.seq) as first_seq, max(b.seq) as last_seq, avg(b.seq) as middle_seq,
            min(b.received_at) as first_at, max(b.received_at) as last_at
        from burst b
        where b.seq is not null
        group by b.mote, b.boot
    ) s
    join mote m on m.mote = s.mote
    cross join campaign c
    where s.bursts >= bursts_least and s.last_seq > s.first_seq
),
-- the earliest burst of each of up to 64 stretches, of equals the first: within a few milliseconds of the corners of the
-- lower hull
corner as materialized (
    select e.mote, e.boot, e.earliest.steps as steps, e.earliest.late_s as late_s, l.middle_seq - l.first_seq as middle
    from (
        select o.mote, o.boot, min({'late_s': o.late_s, 'steps': o.steps}) as earliest
        from (
            select
                b.mote, b.boot, b.seq - l.first_seq as steps,
                (b.seq - l.first_seq) * 64 // (l.last_seq - l.first_seq + 1) as stretch,
                (epoch_us(b.received_at) - epoch_us(l.first_at)) / 1e6 - (b.seq - l.first_seq) * l.period_s as late_s
            from burst b
            join life l on l.mote = b.mote and l.boot = b.boot
            where b.seq is not null
        ) o
        group by o.mote, o.boot, o.stretch
    ) e
    join life l on l.mote = e.mote and l.boot = e.boot
),
-- of two edges that meet at the middle, both as high there, the one before it: a choice that has to be made
edge as (
    select
        e.mote, e.boot,
        arg_min({'slope': e.slope, 'start': e.late_s - e.slope * e.steps}, e.height) as line
    from (
        select
            i.mote, i.boot, i.steps, i.late_s, (j.late_s - i.late_s) / (j.steps - i.steps) as slope,
            i.late_s + (j.late_s - i.late_s) / (j.steps - i.steps) * (i.middle - i.steps) as height
        from corner i
        join corner j on j.mote = i.mote and j.boot = i.boot and i.steps < i.middle and j.steps >= i.middle
    ) e
    group by e.mote, e.boot
)
select
    l.mote, l.boot, l.first_at, l.last_at, l.bursts,
    l.period_s + e.line.slope as period_s,
    e.line.slope / l.period_s * 1e6 as drift_ppm,
    l.limit_ppm,
    abs(e.line.slope / l.period_s * 1e6) > l.limit_ppm as is_beyond_limit,
    make_timestamptz(epoch_us(l.first_at) + (e.line.start * 1e6)::bigint) as line_starts_at
from life l
join edge e on e.mote = l.mote and e.boot = l.boot
order by abs(drift_ppm) desc, l.mote, l.boot
