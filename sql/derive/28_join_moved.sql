create or replace temp table moved as
select mote, min(from_at) as from_at, max(to_at) as to_at from moved group by mote
