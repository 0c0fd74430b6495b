list_transform(
    [{'xs': list_concat(list_reverse(xs[2:]), xs), 'ys': list_concat(list_reverse(ys[2:]), ys), 'n': 2 * len(xs) - 1}],
    lambda side: list_transform(
        range(furthest + 1),
        lambda d: case when d < side.n then list_dot_product(side.xs[:side.n - d], side.ys[d + 1:]) else 0.0 end
    )
)[1]
