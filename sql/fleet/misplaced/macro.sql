with bin as materialized (
    select d.mote, d.zone, d.measure, epoch_us(d.minute_at) // 600000000 as bin_number, avg(d.value) as value
    from series.mote_departure d
    join measure k on k.measure = d.measure
    where k.role in ('light', 'sound', 'crowd', 'air_pressure')
    group by d.mote, d.zone, d.measure, bin_number
),
-- pressure: a mote carried to another storey steps away from all others at once
pressure as (
    select
        b.mote, b.zone, b.bin_number,
        b.value * case k.unit when 'Pa' then 0.01 when 'kPa' then 10 else 1 end as value
    from bin b
    join measure k on k.measure = b.measure
    where k.role = 'air_pressure'
),
beside_others as (
    select p.mote, p.zone, p.bin_number, p.value - o.middle as value, p.value as own
    from pressure p
    join (
        select q.bin_number, median(q.value) as middle from pressure q group by q.bin_number
    ) o on o.bin_number = p.bin_number
),
step as materialized (
    select
        p.mote, p.zone, p.bin_number, p.own,
        row_number() over in_order as place,
        avg(p.value) over future - avg(p.value) over past as step_hpa,
        p.value - lag(p.value) over in_order as jump_hpa,
        lead(p.value) over in_order - lag(p.value) over in_order as wide_jump_hpa,
        lag(p.bin_number, 3) over in_order is not null and lead(p.bin_number, 2) over in_order is not null as is_seen
    from beside_others p
    window
        in_order as (partition by p.mote order by p.bin_number),
        -- by values, not by time: motes are moved while nobody hears them
        past as (partition by p.mote order by p.bin_number rows between 6 preceding and 1 preceding),
        future as (partition by p.mote order by p.bin_number rows between current row and 5 following)
),
steepest as materialized (
    select
        s.mote, arg_max(s.zone, abs(s.step_hpa)) as zone, arg_max(s.bin_number, abs(s.step_hpa)) as bin_number,
        arg_max(s.place, abs(s.step_hpa)) as place, arg_max(s.step_hpa, abs(s.step_hpa)) as step_hpa,
        arg_max(greatest(s.jump_hpa / s.step_hpa, s.wide_jump_hpa / s.step_hpa), abs(s.step_hpa)) as sharpness,
        statistics.robust_spread(s.step_hpa, 0) as spread
    from step s
    where s.is_seen
    group by s.mote
),
-- how far a mote went by itself before and after its step
wandered as (
    select
        s.mote,
        least(
            max(p.own) filter (p.place < s.place) - min(p.own) filter (p.place < s.place),
            max(p.own) filter (p.place >= s.place) - min(p.own) filter (p.place >= s.place)
        ) as own_range_hpa
    from steepest s
    join step p on p.mote = s.mote and p.place between s.place - 6 and s.place + 5
    group by s.mote
),
storey_gap as (
    select min(g.gap) as gap_m
    from (select v.height_m - lag(v.height_m) over (order by v.height_m) as gap from level v) g
    where g.gap > 0
),
by_pressure as (
    select
        s.mote, s.zone, abs(s.step_hpa) / greatest(s.spread, 0.02) as doubt,
        'pressure: moved ' || round(abs(s.step_hpa) / 0.118, 1) || ' m ' || case when s.step_hpa < 0 then 'up' else 'down' end
            || ' at ' || strftime(make_timestamptz(s.bin_number * 600000000), '%Y-%m-%dT%H:%MZ')
            || ', the register knows of no move' as evidence
    from steepest s
    join wandered w on w.mote = s.mote
    cross join storey_gap g
    where abs(s.step_hpa) / 0.118 >= 0.6 * g.gap_m
        -- a stuck sensor stands still while all others step
        and s.sharpness > 0.6 and w.own_range_hpa > 0.005
        and not exists (
            select 1 from mote_place p
            where p.mote = s.mote and abs(epoch(p.from_at) - s.bin_number * 600) <= 7200
                and p.from_at > (select min(q.from_at) from mote_place q where q.mote = s.mote)
        )
),
-- light, sound and crowd: what changes in a mote changes in its zone
half_hour as materialized (
    select b.mote, b.zone, b.measure, b.bin_number // 3 as bin_number, avg(b.value) as value
    from bin b
    join measure k on k.measure = b.measure
    where k.role in ('light', 'sound', 'crowd')
    group by b.mote, b.zone, b.measure, b.bin_number // 3
),
placed as (
    select b.measure, b.zone, b.bin_number, sum(b.value) as total, median(b.value) as middle, count(*) as motes
    from half_hour b
    group by b.measure, b.zone, b.bin_number
),
venue as (
    select p.measure, p.bin_number, sum(p.total) / sum(p.motes) as value from placed p group by p.measure, p.bin_number
),
zone_of_own as (
    select
        b.mote, b.zone, b.measure, b.bin_number, b.value - v.value as value,
        -- the median, because one mote that is elsewhere must not make strangers of all others
        case when p.motes > 2 then p.middle when p.motes = 2 then p.total - b.value end - v.value as others
    from half_hour b
    join placed p on p.measure = b.measure and p.zone = b.zone and p.bin_number = b.bin_number
    join venue v on v.measure = b.measure and v.bin_number = b.bin_number
),
own as (
    select
        o.mote, o.zone, o.measure, count(*) as n,
        statistics.correlation(o.value, o.others) as r,
        greatest(0, coalesce(statistics.correlation(o.value, o.value_before), 0)) as r1
    from (
        select z.*, lag(z.value) over (partition by z.mote, z.zone, z.measure order by z.bin_number) as value_before
        from zone_of_own z
    ) o
    where o.others is not null
    group by o.mote, o.zone, o.measure
    having count(*) >= 24
),
beside_venue as (
    select p.measure, p.zone, p.bin_number, p.middle - v.value as value
    from placed p
    join venue v on v.measure = p.measure and v.bin_number = p.bin_number
    qualify stddev_pop(value) over (partition by p.measure, p.zone) > 1e-9
),
-- on one grid, so that each of the sums of a correlation is a product of two lists with 0 where nothing is
slot as (
    select unnest(range(min(b.bin_number), max(b.bin_number) + 1)) as bin_number from half_hour b
),
course_of_mote as (
    select
        m.mote, m.zone, m.measure,
        list(z.value order by s.bin_number) as course
    from (select distinct z.mote, z.zone, z.measure from zone_of_own z) m
    cross join slot s
    left join zone_of_own z
        on z.mote = m.mote and z.zone = m.zone and z.measure = m.measure and z.bin_number = s.bin_number
    group by m.mote, m.zone, m.measure
),
course_of_zone as (
    select
        p.zone, p.measure,
        list(b.value order by s.bin_number) as course
    from (select distinct b.zone, b.measure from beside_venue b) p
    cross join slot s
    left join beside_venue b on b.zone = p.zone and b.measure = p.measure and b.bin_number = s.bin_number
    group by p.zone, p.measure
),
laid as materialized (
    select
        c.mote, c.zone, c.measure,
        list_transform(c.course, lambda v: coalesce(v, 0)) as xs,
        list_transform(c.course, lambda v: (v is not null)::int::double) as is_there,
        list_transform(c.course, lambda v: coalesce(v * v, 0)) as squares
    from (
        select m.mote, m.zone, m.measure, m.course from course_of_mote m
        union all
        select null, z.zone, z.measure, z.course from course_of_zone z
    ) c
),
summed as materialized (
    select
        m.mote, m.zone, m.measure, z.zone as other_zone,
        list_dot_product(m.is_there, z.is_there) as n,
        list_dot_product(m.xs, z.is_there) as x, list_dot_product(m.is_there, z.xs) as y,
        list_dot_product(m.squares, z.is_there) as xx, list_dot_product(m.is_there, z.squares) as yy,
        list_dot_product(m.xs, z.xs) as xy
    from laid m
    join laid z on z.measure = m.measure and z.zone <> m.zone and z.mote is null
    where m.mote is not null
),
elsewhere as (
    select s.mote, s.zone, s.measure, s.other_zone, statistics.correlation_of_sums(s.n, s.x, s.y, s.xx, s.yy, s.xy) as r
    from summed s
),
best_elsewhere as (
    select e.mote, e.zone, e.measure, max(e.r) as r, arg_max(e.other_zone, e.r) as other_zone
    from elsewhere e
    where e.r is not null
    group by e.mote, e.zone, e.measure
),
by_zone as (
    select
        w.mote, w.zone,
        (atanh(least(0.999, e.r)) - atanh(greatest(-0.999, least(0.999, w.r))))
            * sqrt(greatest(0, w.n * (1 - w.r1 ** 2) / (1 + w.r1 ** 2) - 3) / 2) as doubt,
        w.measure || ': goes with ' || e.other_zone || ' (r ' || round(e.r, 2) || '), not with its own zone (r '
            || round(w.r, 2) || ')' as evidence
    from own w
    join best_elsewhere e on e.mote = w.mote and e.zone = w.zone and e.measure = w.measure
),
told as (
    select b.mote, b.zone, b.doubt, b.evidence from by_pressure b
    union all
    select b.mote, b.zone, b.doubt, b.evidence from by_zone b
)
select
    t.mote,
    any_value(z.level) as level,
    arg_max(t.zone, t.doubt) as zone,
    max(t.doubt) as doubt,
    string_agg(t.evidence, '; ' order by t.doubt desc, t.evidence) as evidence
from told t
left join zone z on z.zone = t.zone
where t.doubt >= doubt_least
group by t.mote
order by max(t.doubt) desc, t.mote
