create table mote_reference (
    mote varchar not null,
    measure varchar not null,
    from_at timestamptz not null,
    value double
)
