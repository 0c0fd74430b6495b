create table mote_place (
    mote varchar not null,
    from_at timestamptz not null,
    to_at timestamptz not null,
    zone varchar,
    level varchar
)
