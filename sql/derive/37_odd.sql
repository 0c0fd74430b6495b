insert into work.odd select mote, $measure as measure, bucket_at from odd_in_hand
