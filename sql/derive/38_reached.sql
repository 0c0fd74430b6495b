-- Where minutes of this measure may have changed, mote by mote.
insert into reached
select $measure, mote, from_at - $margin, to_at + $margin from moved
