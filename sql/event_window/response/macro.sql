with chosen as (
    select m.measure, m.kind
    from measure m
    where m.measure = series.measure_for(measure, ['crowd', 'sound', 'light', 'temperature', 'relative_humidity'])
),
clock as materialized (
    select epoch(k.minute_at)::bigint // 60 as minute_number, k.local_at, k.is_open from series.clock k
),
level_of as materialized (
    select
        v.zone, v.minute_number, k.is_open, v.value,
        -- what is averaged: decibels as energy
        case when c.kind = 'decibel' then pow(10, v.value / 10) else v.value end as strength
    from series.zone_or_venue(of_measure := (select c.measure from chosen c)) v
    join clock k on k.minute_number = v.minute_number
    cross join chosen c
),
occurrence as (
    select o.event, o.kind, o.zone, o.start_number, o.length_min
    from event_window.occurrence o
    where (kind is null or o.kind = kind) and (zone is null or o.zone = zone)
),
busy as (
    select o.event, o.zone, o.start_number as from_number, o.start_number + o.length_min as to_number
    from event_window.occurrence o
),
-- the ladder: where and when else a window of the same shape can be laid
same_time as (
    select
        o.event, o.zone as event_zone, o.zone, o.length_min, other.minute_number as start_number,
        case when date_diff('day', own.local_at, other.local_at) % 7 = 0 then 1 else 2 end as rung
    from occurrence o
    join clock own on own.minute_number = o.start_number
    join clock other
        on other.local_at::time = own.local_at::time and other.local_at::date <> own.local_at::date
),
other_zone as (
    select o.event, o.zone as event_zone, z.zone, o.length_min, o.start_number, 3 as rung
    from occurrence o
    join (select distinct l.zone from level_of l where l.zone <> '*') z on z.zone <> o.zone
    where o.zone <> '*'
),
other_hour as (
    select
        o.event, o.zone as event_zone, o.zone, o.length_min,
        o.start_number + s.steps * (before_min + o.length_min) as start_number, 4 as rung
    from occurrence o
    cross join (select min(k.minute_number) as first_number, max(k.minute_number) as last_number from clock k) e
    cross join unnest(range(
        (e.first_number - o.start_number) // (before_min + o.length_min),
        (e.last_number - o.start_number) // (before_min + o.length_min) + 1
    )) s(steps)
    -- enough for a p of 0.005; all hours of a long campaign would take minutes
    where s.steps <> 0 and abs(s.steps) <= 100
),
candidate as materialized (
    select row_number() over () as number, c.event, c.event_zone, c.zone, c.length_min, c.start_number, c.rung
    from (
        select t.event, t.event_zone, t.zone, t.length_min, t.start_number, t.rung from same_time t
        union all
        select t.event, t.event_zone, t.zone, t.length_min, t.start_number, t.rung from other_zone t
        union all
        select t.event, t.event_zone, t.zone, t.length_min, t.start_number, t.rung from other_hour t
    ) c
    where not exists (
        select 1 from busy b
        where b.zone = c.zone and b.from_number < c.start_number + c.length_min
            and b.to_number + after_min > c.start_number - before_min
    )
),
summed as (
    select
        l.number,
        avg(v.strength) filter (l.minute_number < l.start_number) as before,
        avg(v.strength) filter (l.minute_number >= l.start_number) as during,
        count(*) filter (l.minute_number < l.start_number) as before_n, count(*) as n, bool_and(v.is_open) as is_open
    from (
        select
            c.number, c.zone, c.start_number,
            unnest(range(c.start_number - before_min, c.start_number + c.length_min)) as minute_number
        from candidate c
    ) l
    join level_of v on v.zone = l.zone and v.minute_number = l.minute_number
    group by l.number
),
usable as (
    select
        c.event, c.event_zone, c.rung,
        case
            when h.kind = 'decibel' then 10 * log10(s.during) - case when before_min > 0 then 10 * log10(s.before) else 0 end
            else s.during - case when before_min > 0 then s.before else 0 end
        end as change
    from summed s
    join candidate c on c.number = s.number
    cross join chosen h
    where s.before_n * 2 >= before_min and (s.n - s.before_n) * 2 >= c.length_min and (c.rung < 4 or s.is_open)
),
-- before and after an event, minutes of another event in the same zone say nothing about it
part as (
    select
        l.event, l.zone, v.value,
        case
            when l.minute_number < l.start_number then 'before'
            when l.minute_number < l.start_number + l.length_min then 'during'
            else 'after'
        end as part
    from (
        select
            o.event, o.zone, o.start_number, o.length_min,
            o.start_number + unnest(range(-before_min, o.length_min + after_min)) as minute_number
        from occurrence o
    ) l
    join level_of v on v.zone = l.zone and v.minute_number = l.minute_number
    where (l.minute_number >= l.start_number and l.minute_number < l.start_number + l.length_min)
        or not exists (
            select 1 from busy b
            where b.zone = l.zone and b.event <> l.event
                and b.from_number <= l.minute_number and b.to_number > l.minute_number
        )
),
averaged as (
    select
        p.event, p.zone,
        case when any_value(before_min) > 0
            then statistics.mean_of_kind(c.kind, case when p.part = 'before' then p.value end) else 0 end as before,
        statistics.mean_of_kind(c.kind, case when p.part = 'during' then p.value end) as during,
        statistics.mean_of_kind(c.kind, case when p.part = 'after' then p.value end) as after,
        count(*) as n
    from part p
    cross join chosen c
    group by p.event, p.zone
),
rung_taken as (
    select c.event, c.event_zone, min(c.rung) as rung
    from (
        select u.event, u.event_zone, u.rung
        from usable u
        group by u.event, u.event_zone, u.rung
        having count(*) >= any_value(matched_least)
    ) c
    group by c.event, c.event_zone
),
matched as (
    select u.event, u.event_zone, u.rung, u.change
    from usable u
    join rung_taken t on t.event = u.event and t.event_zone = u.event_zone and t.rung = u.rung
),
together as (
    select
        m.event, m.event_zone, any_value(m.rung) as rung, count(*) as matched_n, avg(m.change) as matched,
        var_samp(m.change) * (count(*) - 1) as squares
    from matched m
    group by m.event, m.event_zone
),
own as (
    select
        o.event, o.zone, o.kind, o.start_number, o.length_min, a.before, a.during, a.after, coalesce(a.n, 0) as n,
        t.rung, t.matched, coalesce(t.matched_n, 0) as matched_n, t.squares,
        a.during - a.before - t.matched as effect
    from occurrence o
    left join averaged a on a.event = o.event and a.zone = o.zone
    left join together t on t.event = o.event and t.event_zone = o.zone
),
-- each matched window takes the place of the event, and the event a place among the matched windows; where there is
-- only one, the pretended effect would be the event's own, turned round. An effect against few windows scatters wider.
pretended as (
    select
        w.kind, w.rung,
        (m.change - (w.during - w.before + w.matched * w.matched_n - m.change) / w.matched_n) / sqrt(1 + 1 / w.matched_n)
            as strength
    from own w
    join matched m on m.event = w.event and m.event_zone = w.zone
    where w.effect is not null and w.matched_n >= 2
),
judged as (
    select
        w.event, w.zone,
        count(p.strength) as pretended_n,
        (1 + count(*) filter (abs(p.strength) >= w.strength - 1e-12)) / (1.0 + count(p.strength)) as p
    from (
        select o.event, o.zone, o.kind, o.rung, abs(o.effect) / sqrt(1 + 1 / o.matched_n) as strength
        from own o
        where o.effect is not null
    ) w
    join pretended p on p.kind is not distinct from w.kind and p.rung = w.rung
    group by w.event, w.zone, w.strength
),
scatter as (
    select
        w.kind, w.rung, sum(w.matched_n - 1) as df,
        sqrt(sum(w.squares) / nullif(sum(w.matched_n - 1), 0)) as spread
    from own w
    where w.rung is not null
    group by w.kind, w.rung
),
-- the yardstick of the kind; of all kinds where the kind has too few matched windows
yardstick as (
    select
        c.kind, c.rung,
        case when c.df >= 2 then c.spread else a.spread end as spread,
        case when c.df >= 2 then c.df else a.df end as df
    from scatter c
    join (
        select w.rung, sum(w.matched_n - 1) as df, sqrt(sum(w.squares) / nullif(sum(w.matched_n - 1), 0)) as spread
        from own w
        where w.rung is not null
        group by w.rung
    ) a on a.rung = c.rung
),
neighbour as (
    select o.event, o.zone, string_agg(distinct b.event, '+' order by b.event) as overlaps
    from occurrence o
    join busy b
        on b.event <> o.event and (b.zone = o.zone or b.zone = '*')
        and b.from_number < o.start_number + o.length_min + after_min and b.to_number > o.start_number - before_min
    group by o.event, o.zone
)
select
    w.event,
    nullif(w.zone, '*') as zone,
    case when before_min > 0 then u.value + w.before end as before,
    u.value + w.during as during,
    u.value + w.after as after,
    w.matched,
    [
        'same weekday and time', 'another day, same time', 'other zones, same instant', 'same zone, other open hours'
    ][w.rung] as matched_by,
    w.matched_n,
    w.effect,
    w.effect - c.spread * sqrt(1 + 1.0 / w.matched_n) * statistics.t_quantile(c.df) as low,
    w.effect + c.spread * sqrt(1 + 1.0 / w.matched_n) * statistics.t_quantile(c.df) as high,
    case when j.pretended_n >= 19 then j.p end as p,
    w.n,
    h.measure,
    w.kind,
    c.spread,
    b.overlaps,
    case
        when w.n = 0 then 'no data in its window'
        when w.before is null then 'nothing left before it: other events or no data'
        when w.during is null then 'no data during it'
        when w.rung is null then 'no matched window anywhere on the ladder'
        when j.pretended_n is null then 'no p: no event of this kind has two matched windows'
        when j.pretended_n < 19 then 'no p: only ' || j.pretended_n || ' matched windows for this kind, 19 are needed'
    end as note
from own w
cross join chosen h
left join series.usual_level(of_measure := (select c.measure from chosen c)) u on u.zone = w.zone
left join judged j on j.event = w.event and j.zone = w.zone
left join yardstick c on c.kind is not distinct from w.kind and c.rung = w.rung
left join neighbour b on b.event = w.event and b.zone = w.zone
order by w.start_number, w.event, w.zone
