case
    when x <= 0 then 0
    when x >= 1 then 1
    when x <= (a + 1) / (a + b + 2)
    then exp(a * ln(x) + b * ln(1 - x) + lgamma(a + b) - lgamma(a) - lgamma(b)) / a
        * statistics.beta_fraction(x, a, b)
    else 1 - exp(a * ln(x) + b * ln(1 - x) + lgamma(a + b) - lgamma(a) - lgamma(b)) / b
        * statistics.beta_fraction(1 - x, b, a)
end
