coalesce(nullif(1.482602218505602 * mad(x), 0), nullif(1.2533141373155 * avg(abs(x - middle)), 0))
