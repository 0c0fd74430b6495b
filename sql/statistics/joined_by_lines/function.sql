-- the values are named once, because a macro writes its arguments out wherever it uses them
list_transform(
    [vs],
    lambda v: list_append(
        flatten(list_transform(
            list_zip(places, places[2:], v, v[2:], true),
            lambda s: list_transform(range(s[1], s[2]), lambda j: s[3] + (s[4] - s[3]) * (j - s[1]) / (s[2] - s[1]))
        )),
        v[-1]
    )
)[1]
