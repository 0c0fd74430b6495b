exp(-2 * exp(
    2 * ln(windows) + 0.5 * ln(ln(windows)) + ln(1.5) - 0.5 * ln(pi())
    - sqrt(2 * ln(windows)) * score
))
