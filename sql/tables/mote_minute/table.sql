create table mote_minute (
    mote varchar not null,
    zone varchar,
    measure varchar not null,
    minute_at timestamptz not null,
    n integer not null,
    left_out integer not null,
    covered_s double not null,
    value double,
    low double,
    high double
)
