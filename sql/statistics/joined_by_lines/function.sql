list_append(
    flatten(list_transform(
        list_zip(places, places[2:], vs, vs[2:], true),
        lambda s: list_transform(range(s[1], s[2]), lambda j: s[3] + (s[4] - s[3]) * (j - s[1]) / (s[2] - s[1]))
    )),
    vs[-1]
)
