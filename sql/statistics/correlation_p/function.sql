case when n > 2 then statistics.incomplete_beta(1 - r * r, n / 2 - 1, 0.5) end
