create table raw_object (
    object varchar not null,
    batch bigint not null,
    sha256 varchar not null,
    size_bytes bigint not null,
    state varchar not null,
    read bigint not null,
    staged bigint not null,
    duplicates bigint not null,
    rejected bigint not null,
    reading_rejects bigint not null,
    verdict varchar
)
