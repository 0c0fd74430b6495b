least(1, p + (lags - 1) * 4 * statistics.owens_t(
    abs(atanh(greatest(-0.9999999999, least(0.9999999999, r)))) * sqrt(greatest(n - 3, 0)),
    sqrt((1 - smoothness) / (1 + smoothness))
))
