greatest(0, least(8,
    sqrt(-2 * ln(greatest(p, 1e-300) / 2))
    - (2.515517 + 0.802853 * sqrt(-2 * ln(greatest(p, 1e-300) / 2)) + 0.010328 * -2 * ln(greatest(p, 1e-300) / 2))
    / (
        1 + 1.432788 * sqrt(-2 * ln(greatest(p, 1e-300) / 2)) + 0.189269 * -2 * ln(greatest(p, 1e-300) / 2)
        + 0.001308 * sqrt(-2 * ln(greatest(p, 1e-300) / 2)) ** 3
    )
))
