relative_humidity / 100 * 6.112 * exp(17.62 * temperature_c / (243.12 + temperature_c))
