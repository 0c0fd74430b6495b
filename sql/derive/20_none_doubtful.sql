-- Where no measure of the register has a flat time.
create or replace temp table doubtful (mote varchar, measure varchar)
