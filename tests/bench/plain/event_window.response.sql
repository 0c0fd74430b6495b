-- compared by event, zone, matched_n
-- the crowd during each event less the half hour before, against the nearest windows in which nothing happens
with reference as (
    select mote, value, from_at, lead(from_at, 1, 'infinity') over (partition by mote order by from_at) as to_at
    from mote_reference
    where measure = 'footsteps'
),
by_zone as materialized (
    select
        zone, epoch_us(minute_at) // 60000000 as minute_number, count(*) as motes,
        avg(m.value * 60 / covered_s - r.value) as value
    from mote_minute m
    join reference r on r.mote = m.mote and minute_at >= from_at and minute_at < to_at
    where measure = 'footsteps' and zone is not null and m.value is not null and covered_s >= 30
    group by all
),
crowd as (
    select zone, minute_number, value from by_zone
    union all
    select '*', minute_number, sum(value * motes) / sum(motes) from by_zone group by minute_number
),
span as (select epoch_us(min(minute_at)) // 60000000 as first, epoch_us(max(minute_at)) // 60000000 as last from zone_minute),
clock as materialized (
    select
        minute_number, local_at::date as day, local_at::time as wall,
        wall >= coalesce(open_from, time '00:00') and wall < coalesce(open_to, time '24:00') as is_open
    from (
        select minute_number, timezone(time_zone, make_timestamptz(minute_number * 60000000)) as local_at, open_from, open_to
        from (select unnest(range(first, last + 1)) as minute_number from span)
        cross join campaign
    )
),
minute as materialized (
    select zone, minute_number, value, is_open from crowd join clock using (minute_number)
),
happening as materialized (
    select
        event, kind, trim(unnest(string_split(coalesce(nullif(trim(zone), ''), '*'), '+'))) as zone,
        epoch_us(starts_at) // 60000000 as start,
        start + greatest(1, ceil(epoch(ends_at - starts_at) / 60)::bigint) as stop
    from programme_event
),
-- the same time on another day, the same instant in other zones, other hours in the same zone; where nothing happens
candidate as materialized (
    select row_number() over () as number, c.*
    from (
        select
            event, h.zone as own_zone, h.zone, other.minute_number as start, other.minute_number + stop - h.start as stop,
            case when (other.day - own.day) % 7 = 0 then 1 else 2 end as rung
        from happening h
        join clock own on own.minute_number = h.start
        join clock other on other.wall = own.wall and other.day <> own.day
        union all
        select event, h.zone, z.zone, start, stop, 3
        from happening h
        join (select distinct zone from by_zone) z on z.zone <> h.zone
        where h.zone <> '*'
        union all
        select event, zone, zone, start + step * (30 + stop - start), stop + step * (30 + stop - start), 4
        from happening
        cross join span
        cross join range(-100, 101) s(step)
        where step <> 0 and start + step * (30 + stop - start) between first - (30 + stop - start) and last
    ) c
    anti join happening b on b.zone = c.zone and b.start < c.stop and b.stop + 30 > c.start - 30
),
laid as (
    select
        number, avg(value) filter (minute_number < start) as before, avg(value) filter (minute_number >= start) as during,
        count(*) filter (minute_number < start) as before_n, count(*) - before_n as during_n, bool_and(is_open) as is_open
    from (select number, zone, start, unnest(range(start - 30, stop)) as minute_number from candidate) w
    join minute using (zone, minute_number)
    group by number
),
usable as (
    select event, own_zone as zone, rung, during - before as change
    from laid
    join candidate using (number)
    where before_n >= 15 and during_n * 2 >= stop - start and (rung < 4 or is_open)
    qualify rung = min(rung) over (partition by event, own_zone)
),
matched as (
    select
        event, zone, any_value(rung) as rung, avg(change) as matched, count(*) as matched_n,
        var_samp(change) * (count(*) - 1) as squares
    from usable
    group by all
),
own as (
    select
        event, zone, avg(value) filter (minute_number < start) as before,
        avg(value) filter (minute_number >= start and minute_number < stop) as during,
        avg(value) filter (minute_number >= stop) as after, count(*) as n
    from (select event, zone, start, stop, unnest(range(start - 30, stop + 30)) as minute_number from happening) w
    join minute using (zone, minute_number)
    anti join happening b
        on b.zone = w.zone and b.event <> w.event and b.start <= minute_number and b.stop > minute_number
        and (minute_number < w.start or minute_number >= w.stop)
    group by all
),
effect as materialized (
    select h.event, h.zone, kind, rung, matched, matched_n, squares, n, during - before - matched as effect, start
    from happening h
    left join own using (event, zone)
    left join matched using (event, zone)
),
spread as (
    select
        kind, rung, sum(matched_n - 1) as df_kind, sum(squares) as squares_kind,
        sum(df_kind) over (partition by rung) as df_all, sum(squares_kind) over (partition by rung) as squares_all,
        case when df_kind >= 2 then df_kind else df_all end as df,
        sqrt(case when df_kind >= 2 then squares_kind else squares_all end / nullif(df, 0)) as spread
    from effect
    where rung is not null
    group by kind, rung
),
answer as (
    select
        event, nullif(zone, '*') as zone, matched, matched_n, effect, start,
        effect - margin as low, effect + margin as high, spread
    from (
        select
            *, spread * sqrt(1 + 1 / matched_n) * case
                when df >= 5 then 1.959963984540054 + 2.372271230 / df + 2.822498616 / df ** 2 + 2.555852225 / df ** 3
                    + 1.589536442 / df ** 4
                else [12.706204736, 4.302652730, 3.182446305, 2.776445105][floor(df)::integer]
            end as margin
        from effect
        left join spread using (kind, rung)
    )
)
select event, zone, matched, matched_n, effect, low, high, spread
from answer
order by start, event, zone
