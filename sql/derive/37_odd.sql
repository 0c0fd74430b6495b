delete from work.odd
where measure = $measure and bucket_at >= $from_at and bucket_at <= $to_at + interval '30 minutes';
insert into work.odd select mote, $measure as measure, bucket_at from odd_in_hand
