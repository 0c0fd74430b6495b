case when relative_humidity > 0 then
    243.12 * (ln(relative_humidity / 100) + 17.62 * temperature_c / (243.12 + temperature_c))
    / (17.62 - ln(relative_humidity / 100) - 17.62 * temperature_c / (243.12 + temperature_c))
end
