216.679 * air.vapour_pressure_hpa(temperature_c, relative_humidity) / (273.15 + temperature_c)
