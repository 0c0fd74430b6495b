greatest(0, least(0.9999999, (
    list_dot_product(xs[:len(xs) - 1], ys[2:]) + list_dot_product(xs[2:], ys[:len(ys) - 1])
) / greatest(1, 2 * list_dot_product(xs, ys) - 1)))
