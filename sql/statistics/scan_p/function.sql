least(1, p * (
    1 + (lags - 1) * (1 - p / 2)
    * statistics.owens_t(statistics.normal_height(p), sqrt((1 - smoothness) / (1 + smoothness)))
    / statistics.owens_t(statistics.normal_height(p), 1)
))
