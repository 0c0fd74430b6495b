-- Where minutes may have changed: where readings came, went or changed their flags. A count stands for the period
-- before its burst, what a running counter grew by for the time since the burst before, up to a day.
create or replace temp table moved as
with changed as (
    select measure, mote, min(sampled_at) as from_at, max(sampled_at) as to_at
    from (
        select measure, mote, sampled_at from flagged
        union all
        select measure, mote, sampled_at from stale
    )
    group by measure, mote
)
select
    changed.measure, changed.mote,
    changed.from_at - case measure.kind when 'count' then $period when 'total' then $day else interval 0 second end as from_at,
    changed.to_at + case measure.kind when 'count' then $period when 'total' then $day else interval 0 second end as to_at
from changed
join measure using (measure);
insert into work.reached from moved
