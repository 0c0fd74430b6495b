with shift as materialized (
    select
        s.*, z.level, sign(s.size) as direction, epoch_us(s."at") // 60000000 as minute_number,
        timezone(c.time_zone, s."at")::date as day_date,
        hour(timezone(c.time_zone, s."at")) * 60 + minute(timezone(c.time_zone, s."at")) as minute_of_day
    from change.shifts(
        measure := measure, confidence_least := confidence_least, lasting_least_min := lasting_least_min,
        from_at := from_at, to_at := to_at
    ) s
    cross join campaign c
    left join zone z on z.zone = s.zone
),
known as (
    select o.zone, o.starts_at as "at" from event_window.occurrence o
    union all
    select o.zone, o.ends_at from event_window.occurrence o
    union all
    select coalesce(p.zone, '*'), p."at" from context_point p where p.note is not null
    union all
    select unnest([m.zone, n.zone]), n.from_at
    from mote_place n
    join mote_place m on m.mote = n.mote and m.to_at = n.from_at
    union all
    select '*', timezone(c.time_zone, d.day_date + unnest([c.open_from, c.open_to]))
    from (select distinct s.day_date from shift s) d
    cross join campaign c
),
unknown as (
    select s.*
    from shift s
    where (zone is null or s.zone = zone) and not exists (
        select 1 from known k
        where k.zone in (s.zone, '*')
            and epoch(s."at") - epoch(k."at") between -near_min * 60 and late_min * 60
    )
),
alike as (
    select
        u.zone, u.measure, u."at",
        count(distinct o.zone) filter (abs(o.minute_number - u.minute_number) <= 10) as zones,
        count(distinct o.zone) filter (abs(o.minute_number - u.minute_number) <= 10 and o.level = u.level) as of_level,
        count(distinct o.day_date) filter (o.zone = u.zone and abs(o.minute_of_day - u.minute_of_day) <= 10) as on_days
    from unknown u
    join shift o
        on o.measure = u.measure and o.direction = u.direction and coalesce(o.is_one_mote, false) = coalesce(u.is_one_mote, false)
    group by u.zone, u.measure, u."at"
),
-- what a quarter of the venue does, or half of a storey, is one thing and not many
placed as (
    select
        u.*, a.zones, a.on_days,
        case
            when u.is_one_mote then 'mote of ' || u.zone
            when a.zones >= 3 and a.zones * 4 >= (select count(*) from zone) then '*'
            when a.of_level >= 3 and a.of_level * 2 >= (select count(*) from zone z where z.level = u.level) then 'level ' || u.level
            else 'zone ' || u.zone
        end as place
    from unknown u
    join alike a on a.zone = u.zone and a.measure = u.measure and a."at" = u."at"
),
chained as (
    select n.*, count(*) filter (n.is_new) over (partition by n.place order by n.minute_number, n.zone, n.measure) as occasion
    from (
        select
            p.*,
            coalesce(
                p.minute_number - lag(p.minute_number) over (
                    partition by p.place order by p.minute_number, p.zone, p.measure
                ) > 10,
                true
            ) as is_new
        from placed p
    ) n
),
clearest as (
    select
        c.*,
        list(c.measure) over occasion as measures,
        row_number() over (partition by c.place, c.occasion order by abs(c.score) desc, c.zone, c.measure, c."at") as place_in_occasion
    from chained c
    window occasion as (partition by c.place, c.occasion)
),
told as (
    select
        c.*, list_sort(list_distinct(list_filter(c.measures, lambda m: m <> c.measure))) as others
    from clearest c
    where c.place_in_occasion = 1
)
select
    t.zone, t.measure, t."at", t.size, t.before, t.after, t.confidence, t.score, t.lasted_min, t.is_one_mote,
    t.zones, t.on_days, len(t.measures) as shifts, nullif(array_to_string(t.others, ', '), '') as also
from told t
qualify row_number() over (order by t.is_one_mote is true, t.on_days > 1, len(t.others) desc, abs(t.score) desc, t.zone, t.measure, t."at") <= most
order by t.is_one_mote is true, t.on_days > 1, len(t.others) desc, abs(t.score) desc, t.zone, t.measure, t."at"
