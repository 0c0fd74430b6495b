case
    when not df > 0 then null
    -- Near 0 nearly all of the probability lies beyond t, and what is told apart is how little does not.
    when t * t < 1 then 1 - statistics.incomplete_beta(t * t / (df + t * t), 0.5, df / 2)
    else statistics.incomplete_beta(df / (df + t * t), df / 2, 0.5)
end
