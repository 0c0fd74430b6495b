list_transform(
    [{
        'x': list_transform(xs, lambda v: coalesce(v - list_avg(xs), 0)),
        'y': list_transform(ys, lambda v: coalesce(v - list_avg(ys), 0)),
        'held': list_transform(xs, lambda v: case when v is null then 0.0::double else 1.0::double end),
        'n': len(xs)
    }],
    lambda s:
        1 / greatest(
            1,
            1 + 2 * list_sum(list_transform(
                range(1, s.n // 5 + 1),
                lambda j: coalesce(
                    list_dot_product(s.x[:s.n - j], s.x[j + 1:]) * list_dot_product(s.y[:s.n - j], s.y[j + 1:])
                    / nullif(list_dot_product(s.held[:s.n - j], s.held[j + 1:]), 0),
                    0
                )
            )) * list_sum(s.held) / nullif(list_dot_product(s.x, s.x) * list_dot_product(s.y, s.y), 0)
        )
)[1]
