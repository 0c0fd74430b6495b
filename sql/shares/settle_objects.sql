-- read = staged + duplicates + rejected, object by object, with the duplicates that the shares counted. Lines of an
-- object that is not loaded repeat nothing yet.
update raw_object
set duplicates = settled.duplicates, staged = settled.read - settled.rejected - settled.duplicates
from (
    select raw_object.object, raw_object.read, raw_object.rejected,
           coalesce(sum(counted.duplicates), 0)::bigint as duplicates
    from raw_object
    left join work.share_duplicate as counted using (object)
    group by all
) as settled
where settled.object = raw_object.object
    and (raw_object.duplicates is distinct from settled.duplicates
        or raw_object.staged is distinct from settled.read - settled.rejected - settled.duplicates)
