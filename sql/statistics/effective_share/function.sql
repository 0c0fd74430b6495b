(
    select
        1 / greatest(
            1,
            1 + 2 * sum(coalesce(
                list_dot_product(z.x[:z.n - z.j], z.x[z.j + 1:]) * list_dot_product(z.y[:z.n - z.j], z.y[z.j + 1:])
                / nullif(list_dot_product(z.held[:z.n - z.j], z.held[z.j + 1:]), 0),
                0
            )) * any_value(list_sum(z.held) / nullif(list_dot_product(z.x, z.x) * list_dot_product(z.y, z.y), 0))
        )
    from (
        select
            unnest(range(1, len(xs) // 5 + 1)) as j,
            len(xs) as n,
            list_transform(xs, lambda v: coalesce(v - list_avg(xs), 0)) as x,
            list_transform(ys, lambda v: coalesce(v - list_avg(ys), 0)) as y,
            list_transform(xs, lambda v: case when v is null then 0.0::double else 1.0::double end) as held
    ) z
)
