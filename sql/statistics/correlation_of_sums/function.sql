case
    when n > 1 and xx - x * x / n > 1e-9 * greatest(xx, 1e-300) and yy - y * y / n > 1e-9 * greatest(yy, 1e-300)
    then greatest(-1, least(1, (xy - x * y / n) / sqrt((xx - x * x / n) * (yy - y * y / n))))
end
