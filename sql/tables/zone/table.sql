create table zone (
    zone varchar not null,
    level varchar,
    title varchar,
    kind varchar,
    area_m2 double,
    x_m double,
    y_m double
)
