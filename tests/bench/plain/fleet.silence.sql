-- gaps of ten periods in what each mote sent
select mote, before_at as from_at, sampled_at as to_at
from (select mote, sampled_at, lag(sampled_at) over (partition by mote order by sampled_at) as before_at from burst)
where sampled_at - before_at > interval 200 seconds
order by sampled_at - before_at desc
