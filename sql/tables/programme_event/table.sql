create table programme_event (
    event varchar not null,
    title varchar,
    kind varchar,
    zone varchar,
    starts_at timestamptz not null,
    ends_at timestamptz not null
)
