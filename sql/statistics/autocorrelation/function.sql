(
    select
        list_prepend(1.0::double, coalesce(list(
            coalesce(
                list_dot_product(z.x[:z.n - z.j], z.x[z.j + 1:]) / nullif(list_dot_product(z.x, z.x), 0)
                * sqrt(list_sum(z.held) / nullif(list_dot_product(z.held[:z.n - z.j], z.held[z.j + 1:]), 0)),
                0
            )
            order by z.j
        ), []))
    from (
        select
            unnest(range(1, len(xs) // 5 + 1)) as j,
            len(xs) as n,
            list_transform(xs, lambda v: coalesce(v - list_avg(xs), 0)) as x,
            list_transform(xs, lambda v: case when v is null then 0.0::double else 1.0::double end) as held
    ) z
)
