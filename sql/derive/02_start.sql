-- Starts of boots. A boot has one start, and delay only ever adds to it: hearings whose start_us lie within a
-- second of each other, of at least three different seq, show one. Three such hearings cannot share one arrival
-- (start_us would differ by whole periods), so a gateway's flush makes no start.
-- A start that is not later than the last burst on the start before is that boot's own, delayed.
create or replace temp table start as
with ordered as (
    select
        mote, seq, heard_us, start_us,
        start_us - lag(start_us) over (partition by mote order by start_us) > 1000000 as is_apart
    from hearing_in_hand
    where seq is not null
),
grouped as (
    select
        mote, seq, heard_us, start_us,
        count(*) filter (is_apart) over (partition by mote order by start_us) as cluster
    from ordered
),
cluster as (
    select
        mote, cluster,
        min(start_us) as low_us, max(start_us) as high_us, max(heard_us) as last_us,
        min(seq) as seq_low, max(seq) as seq_high, count(*) as hearings
    from grouped
    group by mote, cluster
),
shown as (
    select cluster.mote, cluster.cluster, any_value(cluster.low_us) as low_us,
           any_value(cluster.high_us) as high_us, any_value(cluster.last_us) as last_us
    from cluster
    join grouped using (mote, cluster)
    where cluster.hearings >= 3 and grouped.seq > cluster.seq_low and grouped.seq < cluster.seq_high
    group by cluster.mote, cluster.cluster
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
