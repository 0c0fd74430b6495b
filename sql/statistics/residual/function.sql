y - avg(y) over () - coalesce(
    covar_pop(y, x) over () / nullif(case when var_pop(x) over () > 1e-18 then var_pop(x) over () else 0 end, 0), 0
) * (x - avg(x) over ())
