coalesce(
    given,
    (
        select m.measure
        from measure m
        where m.measure is distinct from besides
        order by coalesce(list_position(roles, m.role), 1000), m.measure
        limit 1
    )
)
