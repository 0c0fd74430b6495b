create table batch (
    batch bigint not null,
    id varchar not null,
    objects integer not null,
    state varchar not null,
    read bigint not null,
    parsed bigint not null,
    rejected bigint not null,
    made_at timestamptz not null,
    loaded_at timestamptz
)
