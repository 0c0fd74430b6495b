-- Readings that are new or not what they were, and those that stand there and are so no longer.
create or replace temp view judged_reading as
from (
    select burst, mote, sampled_at, measure, value, failed
    from judged
    unpivot ((value, failed) for measure in (
        (reading_<measure>, failed_<measure>) as '<measure>'
    ))
)
where value is not null;
create or replace temp view flagged as
select new.*
from judged_reading as new
anti join stored as old
    on old.burst = new.burst and old.measure = new.measure and old.sampled_at = new.sampled_at and old.value = new.value
    and old.flag = flag_of(new.failed) and old.reason is not distinct from reason_of(new.failed);
create or replace temp table stale as
select old.place, old.mote, old.measure, old.sampled_at
from stored as old
anti join judged_reading as new
    on old.burst = new.burst and old.measure = new.measure and old.sampled_at = new.sampled_at and old.value = new.value
    and old.flag = flag_of(new.failed) and old.reason is not distinct from reason_of(new.failed)
where old.is_judged
