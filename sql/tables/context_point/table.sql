create table context_point (
    stream varchar not null,
    "at" timestamptz not null,
    value double,
    zone varchar,
    note varchar
)
