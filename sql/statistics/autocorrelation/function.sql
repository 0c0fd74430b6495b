case when xs is not null then list_transform(
    [statistics.memory_lags(len(xs))],
    lambda lags: statistics.joined_by_lines(lags, statistics.memory_at(xs, lags))
)[1] end
