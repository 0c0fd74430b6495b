create table burst (
    burst bigint not null,
    mote varchar not null,
    boot integer not null,
    seq bigint,
    gateway varchar,
    received_at timestamptz not null,
    sampled_at timestamptz not null,
    time_quality varchar not null,
    delay_s double not null,
    rssi_dbm double,
    battery_v double,
    batch bigint not null
)
