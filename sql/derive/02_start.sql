-- Starts of boots. A boot has one start, and delay only ever adds to it: hearings whose start_us lie within a
-- second of each other, of at least three different seq, show one. Three such hearings cannot share one arrival
-- (start_us would differ by whole periods), so a gateway's flush makes no start.
-- A start that is not later than the last burst on the start before is that boot's own, delayed.
create or replace temp table start as
with crowd as (
    -- What starts within the same second lies together anyway: few rows are left to be put in order.
    select
        mote, start_us // 1000000 as start_s, min(start_us) as low_us, max(start_us) as high_us,
        max(heard_us) as last_us, min(seq) as seq_low, max(seq) as seq_high, count(*) as hearings
    from hearing_in_hand
    where seq is not null
    group by all
),
parted as (
    select *, low_us - lag(high_us) over (partition by mote order by start_s) > 1000000 as is_apart
    from crowd
),
grouped as (
    select *, count(*) filter (is_apart) over (partition by mote order by start_s) as cluster
    from parted
),
cluster as (
    select
        mote, min(low_us) as low_us, max(high_us) as high_us, max(last_us) as last_us,
        min(seq_low) as seq_low, max(seq_high) as seq_high
    from grouped
    group by mote, cluster
    having sum(hearings) >= 3
),
shown as (
    select cluster.mote, cluster.low_us, any_value(cluster.high_us) as high_us, any_value(cluster.last_us) as last_us
    from hearing_in_hand as hearing
    join cluster on cluster.mote = hearing.mote
        and hearing.start_us >= cluster.low_us and hearing.start_us <= cluster.high_us
        and hearing.seq > cluster.seq_low and hearing.seq < cluster.seq_high
    group by cluster.mote, cluster.low_us
),
chosen as (
    select
        mote,
        list_reduce(
            list([{'low_us': low_us, 'high_us': high_us, 'last_us': last_us}] order by low_us),
            lambda kept, next:
                case when next[1].low_us > kept[len(kept)].last_us then list_concat(kept, next) else kept end
        ) as starts
    from shown
    group by mote
)
select mote, unnest(starts, recursive := true) from chosen
