list_transform(
    [xs],
    lambda x: list_transform(lags, lambda j: list_dot_product(x[:len(x) - j], x[j + 1:]))
)[1]
