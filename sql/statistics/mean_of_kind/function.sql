case when any_value(kind) = 'decibel' then 10 * log10(avg(pow(10, x / 10))) else avg(x) end
