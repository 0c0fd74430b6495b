case
    when n > 2 and abs(r) < 1 then statistics.t_two_sided_p(r * sqrt((n - 2) / (1 - r * r)), n - 2)
    when n > 2 and abs(r) >= 1 then 0
end
