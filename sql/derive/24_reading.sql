insert into reading by name
select burst, mote, $measure as measure, sampled_at, value, flag, reason from flagged
