-- Hours in which the parts of minutes are not the same files as before.
select distinct hour_at
from (
    (select table_name, hour_at, part from work.share_part except select table_name, hour_at, part from part_before)
    union all
    (select table_name, hour_at, part from part_before except select table_name, hour_at, part from work.share_part)
)
where table_name in ('mote_minute', 'zone_minute')
order by hour_at
