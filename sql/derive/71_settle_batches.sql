update batch
set objects = settled.objects, read = settled.read, parsed = settled.parsed, rejected = settled.rejected,
    state = settled.state
from (
    select
        batch.batch, count(object.object) as objects,
        coalesce(sum(object.read), 0) as read,
        coalesce(sum(object.read - object.rejected), 0) as parsed,
        coalesce(sum(object.rejected), 0) as rejected,
        case
            when count(object.object) = 0 then 'superseded'
            when bool_and(object.state in ('loaded', 'admitted')) then 'loaded'
            when bool_and(object.state = 'discarded') then 'discarded'
            when bool_and(object.state = 'held') then 'held'
            when bool_and(object.state = 'unchecked') then 'unchecked'
            else 'in part'
        end as state
    from batch
    left join raw_object as object using (batch)
    group by batch.batch
) as settled
where settled.batch = batch.batch
    and (batch.objects, batch.read, batch.parsed, batch.rejected, batch.state)
        is distinct from (settled.objects, settled.read, settled.parsed, settled.rejected, settled.state)
