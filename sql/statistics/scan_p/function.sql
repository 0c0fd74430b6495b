least(1, p * (
    1 + (lags - 1) * (1 - p / 2)
    * statistics.owens_t(height, sqrt((1 - smoothness) / (1 + smoothness))) / statistics.owens_t(height, 1)
))
