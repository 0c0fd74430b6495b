with heard as materialized (
    select
        b.mote,
        count(*) as bursts,
        max(b.sampled_at) as last_heard_at,
        max(b.boot) as restarts,
        arg_max(b.battery_v, b.sampled_at) as battery_v,
        -- A power of e takes a fraction of the time of a power of ten.
        10 * log10(avg(exp(b.rssi_dbm * (ln(10) / 10)))) as rssi_dbm
    from burst b
    group by b.mote
),
last_word as (
    select max(h.last_heard_at) as at_last from heard h
),
used as (
    select m.mote, sum(m.left_out) / nullif(sum(m.n + m.left_out), 0)::double as left_out_share
    from mote_minute m
    group by m.mote
),
expected as (
    select
        m.mote,
        greatest(coalesce(m.installed_at, c.starts_at), c.starts_at) as from_at,
        least(coalesce(m.removed_at, c.ends_at), c.ends_at, l.at_last) as to_at,
        coalesce(m.burst_period_s, c.burst_period_s) as period_s,
        coalesce(m.removed_at <= l.at_last, false) as is_removed,
        coalesce(m.installed_at > l.at_last, false) as is_to_come
    from mote m
    cross join campaign c
    cross join last_word l
),
place as (
    select p.mote, p.zone, p.level
    from mote_place p
    cross join last_word l
    where p.from_at <= l.at_last and l.at_last < p.to_at
),
told as (
    select
        m.mote, m.network, p.level, p.zone,
        case
            when e.is_removed then 'removed'
            when e.is_to_come then 'to come'
            when h.mote is null then 'never heard'
            when epoch(e.to_at) - epoch(h.last_heard_at) > 10 * e.period_s then 'silent'
            else 'heard'
        end as state,
        h.last_heard_at,
        greatest(0, epoch(e.to_at) - epoch(coalesce(h.last_heard_at, e.from_at))) / 60 as silent_min,
        coalesce(h.bursts, 0) as bursts,
        greatest(0, floor((epoch(e.to_at) - epoch(e.from_at)) / e.period_s))::bigint as bursts_expected,
        u.left_out_share, h.restarts, h.battery_v, h.rssi_dbm
    from mote m
    join expected e on e.mote = m.mote
    left join heard h on h.mote = m.mote
    left join used u on u.mote = m.mote
    left join place p on p.mote = m.mote
)
select
    t.mote, t.network, t.level, t.zone, t.state, t.last_heard_at, t.silent_min, t.bursts, t.bursts_expected,
    least(1, t.bursts / nullif(t.bursts_expected, 0)::double) as delivered_share,
    t.left_out_share, t.restarts, t.battery_v, t.rssi_dbm
from told t
order by
    list_position(['never heard', 'silent', 'heard', 'to come', 'removed'], t.state),
    case when t.state = 'heard' then 0 else -t.silent_min end,
    delivered_share nulls first,
    t.mote
