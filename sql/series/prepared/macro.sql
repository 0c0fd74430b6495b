with plain as (
    select
        epoch(d.minute_at)::bigint // 60 as minute_number,
        hour(timezone(c.time_zone, d.minute_at)) * 60 + minute(timezone(c.time_zone, d.minute_at)) as minute_of_day,
        d.value
    from series.departure(of_measure := of_measure, in_zone := in_zone) d
    cross join campaign c
),
span as (
    select (max(p.minute_number) - min(p.minute_number) + 1) / 1440.0 as days_long from plain p
),
without_cycle as (
    select
        p.minute_number,
        p.value - case when cycle_removed and s.days_long >= 2
            then avg(p.value) over (partition by p.minute_of_day) else 0 end as value,
        case when cycle_removed and s.days_long >= 2 then floor(s.days_long) end as days_averaged,
        count(*) over (partition by p.minute_of_day) as times_seen
    from plain p
    cross join span s
),
kept as (
    select w.minute_number, w.value, w.days_averaged
    from without_cycle w
    where w.days_averaged is null or w.times_seen >= 2
),
stepped as (
    select
        k.minute_number, k.days_averaged,
        case
            when taken_as = 'levels' then k.value
            when lag(k.minute_number) over (order by k.minute_number) = k.minute_number - 1
            then k.value - lag(k.value) over (order by k.minute_number)
        end as value
    from kept k
)
select t.minute_number, t.value, t.days_averaged from stepped t where t.value is not null
