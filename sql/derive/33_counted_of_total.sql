-- A running counter stands for what it grew by since the burst before in its boot. Where it fell it was set back, and
-- says nothing; nor does it after more than a day.
insert into counted by name
with total as (
    select
        reading.mote, reading.measure, epoch_us(reading.sampled_at) as to_us,
        reading.value - lag(reading.value) over course as value,
        to_us - epoch_us(lag(reading.sampled_at) over course) as covers_us,
        true as is_good
    from reading
    join burst using (burst)
    join measure on measure.measure = reading.measure and measure.kind = 'total'
    join moved on moved.mote = reading.mote and moved.measure = reading.measure
        and reading.sampled_at >= moved.from_at - $day and reading.sampled_at < moved.to_at + $day
    where reading.flag <= 2
    window course as (partition by reading.mote, reading.measure, burst.boot order by reading.sampled_at, reading.burst)
)
select * from total where value >= 0 and covers_us > 0 and covers_us <= epoch_us(make_timestamp(0) + $day)
