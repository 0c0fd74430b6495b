create table level (
    level varchar not null,
    height_m double not null
)
