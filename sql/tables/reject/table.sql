create table reject (
    object varchar not null,
    line bigint not null,
    reason varchar not null,
    mote varchar,
    measure varchar
)
