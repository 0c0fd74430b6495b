create table gateway (
    gateway varchar not null,
    network varchar,
    level varchar,
    zone varchar,
    x_m double,
    y_m double,
    hidden_at varchar,
    note varchar
)
