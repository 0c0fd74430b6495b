case when xs is not null and ys is not null then 1 / greatest(1, 2 * list_dot_product(xs, ys) - 1) end
