-- What was judged stands hour by hour (25_judged), and the side of a join that is read through keeps its order: it must
-- be this one, whatever the planner makes of its size.
delete from reading where rowid in (select place from stale);
set disabled_optimizers = 'build_side_probe_side';
insert into reading by name
select burst, mote, measure, sampled_at, value, flag_of(failed) as flag, reason_of(failed) as reason
from flagged;
reset disabled_optimizers
