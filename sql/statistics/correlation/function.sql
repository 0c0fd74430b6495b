case
    when stddev_pop(x) > 1e-12 * max(abs(x)) and stddev_pop(y) > 1e-12 * max(abs(y))
    then greatest(-1, least(1, corr(x, y)))
end
