case
    when r is not null and n > 3 then tanh(atanh(greatest(-0.9999999999, least(0.9999999999, r))) + 1.959963984540054 / sqrt(n - 3))
end
