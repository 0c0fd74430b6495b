list_transform(
    [list_transform(
        list_zip(
            statistics.lagged_products(
                list_transform([list_avg(xs)], lambda m: list_transform(xs, lambda v: coalesce(v - m, 0)))[1], lags
            ),
            case
                when list_count(xs) = len(xs) then list_transform(lags, lambda j: (len(xs) - j)::double)
                else statistics.lagged_products(
                    list_transform(xs, lambda v: case when v is null then 0.0 else 1.0 end::double), lags
                )
            end
        ),
        lambda sums: sums[1] / sqrt(nullif(sums[2], 0))
    )],
    lambda c: list_transform(c, lambda v: coalesce(v / nullif(c[1], 0), 0))
)[1]
