delete from work.odd
using compared
where odd.measure = compared.measure and odd.bucket_at >= compared.from_at and odd.bucket_at <= compared.to_at;
insert into work.odd select mote, measure, bucket_at from odd_in_hand
