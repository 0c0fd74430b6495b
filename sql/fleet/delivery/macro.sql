with last_word as (
    select max(b.sampled_at) as at_last from burst b
),
heard as (
    select b.mote, epoch(b.sampled_at)::bigint // (60 * every_min) as bin_number, count(*) as bursts
    from burst b
    group by b.mote, bin_number
),
expected as (
    select
        m.mote, m.network,
        epoch(greatest(coalesce(m.installed_at, c.starts_at), c.starts_at)) as from_s,
        epoch(least(coalesce(m.removed_at, c.ends_at), c.ends_at, l.at_last)) as to_s,
        coalesce(m.burst_period_s, c.burst_period_s) as period_s
    from mote m
    cross join campaign c
    cross join last_word l
),
bin as (
    select
        e.mote, e.network, e.from_s, e.to_s, e.period_s,
        unnest(range(e.from_s::bigint // (60 * every_min), e.to_s::bigint // (60 * every_min) + 1)) as bin_number
    from expected e
    where e.from_s < e.to_s
),
counted as (
    select
        b.network, b.mote, make_timestamptz(b.bin_number * every_min * 60000000) as bin_at,
        coalesce(h.bursts, 0) as bursts,
        (least(b.to_s, (b.bin_number + 1) * every_min * 60) - greatest(b.from_s, b.bin_number * every_min * 60))
            / b.period_s as bursts_expected
    from bin b
    left join heard h on h.mote = b.mote and h.bin_number = b.bin_number
)
select
    c.network, c.mote, c.bin_at as "at", c.bursts, c.bursts_expected,
    least(1, c.bursts / c.bursts_expected) as delivered_share
from counted c
where c.bursts_expected >= 1
order by delivered_share, c.network, c.mote, c.bin_at
