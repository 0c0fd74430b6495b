insert into reading by name select * from flagged order by mote, sampled_at
