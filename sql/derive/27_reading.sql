delete from reading where rowid in (select place from stale);
insert into reading by name
select burst, mote, measure, sampled_at, value, flag_of(failed) as flag, reason_of(failed) as reason
from flagged
