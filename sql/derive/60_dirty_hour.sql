-- The UTC hours whose rows may have changed; publishing looks at these only.
insert into work.dirty_hour
select distinct hour_at
from (
    select unnest(generate_series(
        date_trunc('hour', from_at), date_trunc('hour', to_at), interval '1 hour'
    )) as hour_at
    from (from work.reached select from_at, to_at union all from work.reach_of_bursts select from_at, to_at)
)
where hour_at not in (select hour_at from work.dirty_hour)
