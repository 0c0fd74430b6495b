create table mote (
    mote varchar not null,
    network varchar,
    kit varchar not null,
    level varchar,
    zone varchar,
    x_m double,
    y_m double,
    power varchar,
    installed_at timestamptz,
    removed_at timestamptz,
    note varchar,
    burst_period_s double
)
