-- A count stands for the period before its burst.
insert into counted by name
select mote, measure, epoch_us(sampled_at) as to_us, period_us as covers_us, value, failed & 63 = 0 as is_good
from judged
unpivot ((value, failed) for measure in (
    (reading_<measure>, failed_<measure>) as '<measure>'
))
where value >= 0
