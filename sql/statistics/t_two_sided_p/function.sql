case when df > 0 then statistics.incomplete_beta(df / (df + t * t), df / 2, 0.5) end
