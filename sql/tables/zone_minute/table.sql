create table zone_minute (
    zone varchar not null,
    level varchar,
    measure varchar not null,
    minute_at timestamptz not null,
    motes integer not null,
    motes_expected integer not null,
    n integer not null,
    value double
)
