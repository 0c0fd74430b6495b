create table campaign (
    title varchar not null,
    time_zone varchar not null,
    starts_at timestamptz not null,
    ends_at timestamptz not null,
    burst_period_s double not null,
    drift_ppm double not null,
    baseline_from time,
    baseline_to time,
    open_from time,
    open_to time
)
