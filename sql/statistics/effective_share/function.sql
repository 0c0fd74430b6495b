1 / greatest(1, 2 * list_dot_product(xs, ys) - 1)
