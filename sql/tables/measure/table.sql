create table measure (
    measure varchar not null,
    title varchar,
    unit varchar,
    kind varchar not null,
    role varchar,
    span_low double,
    span_high double,
    usual_low double,
    usual_high double,
    max_step double,
    flat_after_min double
)
