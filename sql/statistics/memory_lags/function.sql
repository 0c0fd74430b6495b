list_filter(
    range(length // 5 + 1),
    lambda j: j < 40 or j = length // 5 or floor(ln(j / 40) / ln(1.05)) > floor(ln((j - 1) / 40) / ln(1.05))
)
