-- The main job in bare DuckDB: no manifest, no gate, no account of what was rejected, no clocks of motes, no
-- increments, no crash to survive. It bounds from below what the same work can cost, and what makes it faster
-- goes here first. Run in a folder in which `lake` is a lake of the Depot Fair and `out/published` is an empty
-- folder, with the variables starts_at and ends_at of its campaign.

-- == stage: lines that can be read, to Parquet by day, in the order in which a mote's bursts are asked for
set TimeZone = 'UTC';
set preserve_insertion_order = false;
copy (
    select
        filename, mote, seq, gateway, received_at, rssi_dbm, battery_v, received_at::date as day,
        readings.temperature, readings.pressure, readings.relative_humidity, readings.sound,
        readings.light, readings.footsteps, readings.radio, readings.air_quality
    from read_json('lake/raw/*/*.jsonl.gz',
        format = 'newline_delimited', ignore_errors = true, filename = true,
        columns = {
            mote: 'VARCHAR', seq: 'BIGINT', gateway: 'VARCHAR', received_at: 'TIMESTAMPTZ',
            rssi_dbm: 'DOUBLE', battery_v: 'DOUBLE',
            readings: 'STRUCT(temperature DOUBLE, pressure DOUBLE, relative_humidity DOUBLE, sound DOUBLE,
                              light DOUBLE, footsteps DOUBLE, radio DOUBLE, air_quality DOUBLE)'
        })
    where readings is not null and mote in (select mote from read_csv('lake/register/motes.csv'))
        and received_at >= getvariable('starts_at') and received_at < getvariable('ends_at') + interval 2 hours
    order by mote, received_at
) to 'out/staged' (format parquet, compression zstd, partition_by (day));

-- == load: bursts without repetitions, readings with flags, minutes of motes and zones, in a database file. What is
-- of one hour stands together, since it is published hour by hour: a tenth more to load, a third less to publish.
attach 'out/floor.duckdb' as floor;
use floor;
create table burst as
select
    row_number() over () as burst, mote, seq, min(received_at) as received_at,
    arg_min(gateway, received_at) as gateway, arg_min(rssi_dbm, received_at) as rssi_dbm, battery_v,
    temperature, pressure, relative_humidity, sound, light, footsteps, radio, air_quality
from read_parquet('out/staged/*/*.parquet', hive_partitioning = false)
group by all
order by epoch_us(min(received_at)) // 3600000000;

create type measure_name as enum (select measure from read_csv('lake/register/measures.csv'));
create table measure as
select measure::measure_name as measure, kind, span_low, span_high, usual_low, usual_high, max_step, flat_after_min
from read_csv('lake/register/measures.csv');

-- Neighbours are found before the measures are put one below the other: a mote is sorted once, not eight times.
create temp table course as
select
    burst, mote, received_at, columns(lambda name: list_contains(enum_range(null::measure_name)::varchar[], name)),
    lag(columns(lambda name: list_contains(enum_range(null::measure_name)::varchar[], name))) over in_time as '\0_before',
    lead(columns(lambda name: list_contains(enum_range(null::measure_name)::varchar[], name))) over in_time as '\0_after',
    seq - lag(seq) over in_time as periods_before, lead(seq) over in_time - seq as periods_after,
    row_number() over in_time as place, lag(received_at) over in_time as before_at,
    lead(received_at) over in_time is null as is_last
from burst
window in_time as (partition by mote order by received_at, seq);

create temp table long as
select * replace (measure::measure_name as measure)
from course unpivot include nulls ((value, before, after) for measure in (
    (temperature, temperature_before, temperature_after) as 'temperature',
    (pressure, pressure_before, pressure_after) as 'pressure',
    (relative_humidity, relative_humidity_before, relative_humidity_after) as 'relative_humidity',
    (sound, sound_before, sound_after) as 'sound',
    (light, light_before, light_after) as 'light',
    (footsteps, footsteps_before, footsteps_after) as 'footsteps',
    (radio, radio_before, radio_after) as 'radio',
    (air_quality, air_quality_before, air_quality_after) as 'air_quality'
))
where value is not null;

-- Runs of one value: from each change to the burst before the next change.
create temp table flat as
with run as (
    select
        measure, mote, received_at as from_at, place as from_place,
        lead(before_at) over in_time as to_at, lead(place) over in_time - 1 as to_place
    from long
    where value is distinct from before
    window in_time as (partition by measure, mote order by place)
)
select run.measure, run.mote, from_place, coalesce(to_place, last.place) as to_place
from run
join measure using (measure)
join (select mote, received_at, place from course where is_last) as last using (mote)
where coalesce(to_at, last.received_at) - from_at > to_minutes(flat_after_min);

create table reading as
with tested as (
    select
        burst, long.mote, received_at, value, measure.*,
        periods_before = 1 and abs(value - before) > max_step as is_jump,
        periods_before between 1 and 4 and periods_after between 1 and 4 and (value - before) * (value - after) > 0
            and abs(value - before) > periods_before * max_step and abs(value - after) > periods_after * max_step as is_spike,
        flat.mote is not null as is_flat
    from long
    join measure using (measure)
    left join flat
        on flat.measure = measure.measure and flat.mote = long.mote
        and place >= from_place and place <= to_place
)
select
    burst, mote, measure, received_at, value,
    case
        when value < span_low or value > span_high or is_spike then 4
        when value < usual_low or value > usual_high or is_jump or is_flat then 3
        else 1
    end::utinyint as flag
from tested
order by epoch_us(received_at) // 3600000000;

-- Each mean is taken and then the one that fits: to choose within the sums costs more than the two others.
create table mote_minute as
with summed as (
    select
        mote, measure, time_bucket(interval '1 minute', received_at) as minute_at,
        count(*) as n, min(value) as low, max(value) as high, sum(value) as total, avg(value) as mean,
        avg(case when measure in ('sound', 'radio') then pow(10, value / 10) end) as power
    from reading
    where flag < 3
    group by all
)
select
    mote, measure, minute_at, n, low, high,
    case kind when 'decibel' then 10 * log10(power) when 'count' then total else mean end as value
from summed
join measure using (measure)
order by epoch_us(minute_at) // 3600000000;

create table zone_minute as
select
    zone, measure, minute_at, count(*) as motes,
    case when any_value(kind) = 'decibel' then 10 * log10(avg(pow(10, value / 10))) else avg(value) end as value
from mote_minute
join (select mote, zone from read_csv('lake/register/motes.csv')) as mote using (mote)
join measure using (measure)
group by zone, measure, minute_at
order by epoch_us(minute_at) // 3600000000;

-- == publish: one sorted Parquet file a table and hour; run for each hour_at, since to sort whole tables costs more
copy (
    select * from burst
    where received_at >= getvariable('hour_at') and received_at < getvariable('hour_at') + interval 1 hour
    order by mote, received_at
) to (strftime(getvariable('hour_at'), 'out/published/burst-%Y-%m-%dT%H.parquet')) (format parquet, compression zstd);
copy (
    select * from reading
    where received_at >= getvariable('hour_at') and received_at < getvariable('hour_at') + interval 1 hour
    order by mote, measure, received_at
) to (strftime(getvariable('hour_at'), 'out/published/reading-%Y-%m-%dT%H.parquet')) (format parquet, compression zstd);
copy (
    select * from mote_minute
    where minute_at >= getvariable('hour_at') and minute_at < getvariable('hour_at') + interval 1 hour
    order by measure, mote, minute_at
) to (strftime(getvariable('hour_at'), 'out/published/mote_minute-%Y-%m-%dT%H.parquet')) (format parquet, compression zstd);
copy (
    select * from zone_minute
    where minute_at >= getvariable('hour_at') and minute_at < getvariable('hour_at') + interval 1 hour
    order by measure, zone, minute_at
) to (strftime(getvariable('hour_at'), 'out/published/zone_minute-%Y-%m-%dT%H.parquet')) (format parquet, compression zstd);

-- == ask: do footsteps lead the air quality of a zone, and by how many minutes?
select lag_min, corr(a.value, b.value) as r
from range(-30, 31) as lags (lag_min)
join zone_minute as a on a.measure = 'footsteps' and a.zone = 'track-entrance'
join zone_minute as b
    on b.measure = 'air_quality' and b.zone = 'track-entrance'
    and b.minute_at = a.minute_at + to_minutes(lag_min)
group by lag_min
order by lag_min;
