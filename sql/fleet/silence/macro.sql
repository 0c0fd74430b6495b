-- a gap reaches beyond any stretch that is no longer than it, so the first and last burst of each stretch tell all
with stretch_length as (
    select greatest(1, floor(min(periods * coalesce(m.burst_period_s, c.burst_period_s))))::bigint * 1000000 as length_us
    from mote m
    cross join campaign c
),
spoken as materialized (
    select b.mote, min(b.sampled_at) as first_at, max(b.sampled_at) as last_at
    from burst b
    cross join stretch_length l
    group by b.mote, epoch_us(b.sampled_at) // l.length_us
),
last_word as (
    select max(s.last_at) as at_last from spoken s
),
expected as materialized (
    select
        m.mote, m.network, coalesce(m.power, 'mains') = 'mains' as is_on_mains,
        greatest(coalesce(m.installed_at, c.starts_at), c.starts_at) as from_at,
        least(coalesce(m.removed_at, c.ends_at), c.ends_at, l.at_last) as to_at,
        coalesce(m.burst_period_s, c.burst_period_s) as period_s
    from mote m
    cross join campaign c
    cross join last_word l
),
stretch as (
    select
        s.mote, s.last_at as from_at,
        lead(s.first_at) over (partition by s.mote order by s.first_at) as to_at
    from spoken s
    union all
    select e.mote, e.from_at, coalesce(min(s.first_at), e.to_at)
    from expected e
    left join spoken s on s.mote = e.mote
    group by e.mote, e.from_at, e.to_at
),
gap as materialized (
    select
        e.network, p.zone, e.mote, e.is_on_mains, e.period_s,
        greatest(s.from_at, e.from_at) as from_at,
        least(coalesce(s.to_at, e.to_at), e.to_at) as to_at
    from stretch s
    join expected e on e.mote = s.mote
    left join mote_place p on p.mote = s.mote and p.from_at <= s.from_at and s.from_at < p.to_at
    where epoch(least(coalesce(s.to_at, e.to_at), e.to_at)) - epoch(greatest(s.from_at, e.from_at)) > periods * e.period_s
),
fleet as (
    select e.mote, e.network, e.is_on_mains, p.zone
    from expected e
    left join mote_place p on p.mote = e.mote and p.from_at <= e.from_at and e.from_at < p.to_at
    where e.from_at < e.to_at
),
network_size as (select f.network, count(*) as motes from fleet f group by f.network),
zone_size as (
    select f.zone, count(*) as motes, count(*) filter (f.is_on_mains) as on_mains from fleet f group by f.zone
),
-- half of the gaps end within so many periods more, whatever made the few long ones
fading as (
    select
        count(*) as gaps,
        greatest(1, median((epoch(g.to_at) - epoch(g.from_at)) / g.period_s - periods)) as half_after
    from gap g
),
-- who fell silent about when this mote did, and was silent for most of the time it was
shared as (
    select
        g.mote, g.from_at,
        count(distinct h.mote) as of_venue,
        count(distinct h.mote) filter (h.network = g.network) as of_network,
        count(distinct h.mote) filter (h.zone = g.zone) as of_zone,
        count(distinct h.mote) filter (h.zone = g.zone and h.is_on_mains) as of_mains
    from gap g
    join gap h
        on h.from_at between g.from_at - to_seconds(60 + 5 * g.period_s) and g.from_at + to_seconds(60 + 5 * g.period_s)
        and epoch(least(h.to_at, g.to_at)) - epoch(greatest(h.from_at, g.from_at)) > 0.7 * (epoch(g.to_at) - epoch(g.from_at))
    group by g.mote, g.from_at
)
select
    g.network, g.zone, g.mote, g.from_at, g.to_at,
    greatest(1, round((epoch(g.to_at) - epoch(g.from_at)) / g.period_s) - 1)::bigint as bursts_missed,
    case
        when s.of_venue >= 3 and s.of_venue >= 0.8 * (select count(*) from fleet)
            and (select count(*) from network_size) > 1 then 'collector'
        when s.of_network >= 3 and s.of_network >= 0.7 * n.motes then 'gateway'
        when g.is_on_mains and s.of_mains >= 2 and s.of_mains >= 0.8 * z.on_mains then 'zone power'
        when f.gaps >= 50
            and f.gaps * pow(2, (periods - (epoch(g.to_at) - epoch(g.from_at)) / g.period_s) / f.half_after) >= 0.5
            then 'losses'
        else 'one mote'
    end as cause,
    s.of_network as silent_in_network, n.motes as motes_in_network,
    s.of_zone as silent_in_zone, z.motes as motes_in_zone
from gap g
join shared s on s.mote = g.mote and s.from_at = g.from_at
left join network_size n on n.network = g.network
left join zone_size z on z.zone = g.zone
cross join fading f
order by bursts_missed desc, g.network, g.mote, g.from_at
