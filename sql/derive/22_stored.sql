-- Readings as they stand so far, as far as is looked.
create or replace temp table stored as
select reading.rowid as place, reading.*, reading.sampled_at >= scope.from_at and reading.sampled_at < scope.judged_to as is_judged
from reading
join scope on scope.mote = reading.mote
    and reading.sampled_at >= scope.look_from and reading.sampled_at < scope.look_to
where reading.sampled_at >= $from_at and reading.sampled_at < $to_at
