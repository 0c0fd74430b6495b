create table reading (
    burst bigint not null,
    mote varchar not null,
    measure varchar not null,
    sampled_at timestamptz not null,
    value double not null,
    flag utinyint not null,
    reason varchar
)
