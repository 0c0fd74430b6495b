-- One reach a mote and measure, where several were reached for.
create or replace temp table reached as
select measure, mote, min(from_at) as from_at, max(to_at) as to_at from work.reached group by measure, mote
