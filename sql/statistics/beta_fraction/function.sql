1 / list_reduce(
    range(terms, 0, -1),
    lambda f, m:
        1 - (a + m - 1) * (a + b + m - 1) * x / ((a + 2 * m - 2) * (a + 2 * m - 1))
            / (1 + m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)) / f),
    1.0::double
)
