-- One row per raw object that brought hearings: how much there is of each measure and how much of it lies
-- outside the measure's span; how many bursts were heard of those that its motes sent from the first to the
-- last one heard. A repeated burst makes up for a lost one here: the account of duplicates comes at loading.
-- Other gateways overhear a mote now and then; only what came by its network's own gateway is expected.
--
-- files: the staged Parquet of one batch, or what it was put together in with others; objects: those of the
-- batch. Variables: span_low and span_high (map of column to bound),
-- home (map of mote to the only gateway of its network), period_s (map of mote to its own burst period),
-- usual_period_s.
with hearing as (
    from read_parquet($files, hive_partitioning = false)
    where object in (select unnest($objects))
),
mote_part as (
    select
        object,
        mote,
        count(*) as bursts,
        1 + floor(
            epoch(max(received_at) - min(received_at))
            / coalesce(getvariable('period_s')[mote], getvariable('usual_period_s'))
        ) as expected
    from hearing
    where gateway is null or gateway = getvariable('home')[mote]
    group by object, mote
),
completeness as (
    select
        object,
        count(*) as motes,
        sum(least(bursts, expected)) as heard,
        sum(expected) as expected
    from mote_part
    group by object
),
span as (
    select
        object,
        count(columns('^reading_(.*)$')) as 'n:\1',
        count_if(
            columns('^reading_(.*)$') < getvariable('span_low')[alias(columns('^reading_(.*)$'))]
            or columns('^reading_(.*)$') > getvariable('span_high')[alias(columns('^reading_(.*)$'))]
        ) as 'outside:\1',
        min(columns('^reading_(.*)$')) as 'low:\1',
        max(columns('^reading_(.*)$')) as 'high:\1'
    from hearing
    group by object
)
from span
left join completeness using (object)
order by object
