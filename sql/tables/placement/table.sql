create table placement (
    mote varchar not null,
    from_at timestamptz not null,
    level varchar,
    zone varchar,
    x_m double,
    y_m double,
    how varchar not null,
    note varchar
)
