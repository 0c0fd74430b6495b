create table context_stream (
    stream varchar not null,
    title varchar,
    unit varchar,
    kind varchar,
    max_age_min double
)
