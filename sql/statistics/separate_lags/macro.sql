with given as materialized (
    select unnest([alikeness]) as alike, unnest([lags]) as lags, len(alikeness) - 1 as furthest
),
-- beyond the lags tried the slope fades out: laid on a circle, covariances then meet without a kink
faded as (
    select list(d.alike order by d.distance) as alike
    from (
        select
            p.distance,
            sum(
                (g.alike[p.distance + 1] - coalesce(g.alike[p.distance], 0))
                * least(1, 1 - (p.distance + 0.5 - g.lags) / (g.furthest + 1 - g.lags))
            ) over (order by p.distance) as alike
        from given g
        cross join unnest(range(g.furthest + 1)) p(distance)
    ) d
),
-- on a circle covariances are powers of waves
wave as materialized (
    select
        w.wave,
        case when w.wave in (0, g.furthest) then 1 else 2 end * greatest(0, list_dot_product(f.alike, list_transform(
            range(g.furthest + 1),
            lambda d: case when d in (0, g.furthest) then 1 else 2 end * cos(pi() * w.wave * d / g.furthest)
        ))) as power
    from given g
    cross join faded f
    cross join unnest(range(g.furthest + 1)) w(wave)
),
heard as materialized (
    select w.wave, w.power / s.power as power
    from wave w
    cross join (select sum(a.power) as power from wave a) s
    where w.power > 1e-6 * s.power
),
basis as materialized (
    select
        p.place,
        list(cos(pi() * w.wave * p.place / g.furthest) order by w.wave)
            || list(sin(pi() * w.wave * p.place / g.furthest) order by w.wave) as waves,
        sum(cos(pi() * w.wave * p.place / g.furthest) * w.power) as alike
    from given g
    cross join unnest(range(g.lags)) p(place)
    cross join heard w
    group by p.place
),
drawn as (
    select
        i.number, w.wave, sqrt(-2 * w.power * ln((d.digest % 4294967296 + 0.5) / 4294967296)) as strength,
        pi() * (d.digest // 4294967296) / 2147483648 as phase
    from unnest(range(400)) i(number)
    cross join heard w
    cross join lateral (select md5_number_lower(i.number || ' ' || w.wave) as digest) d
),
imitation as (
    select
        d.number,
        list(d.strength * cos(d.phase) order by d.wave) || list(d.strength * sin(d.phase) order by d.wave) as strengths
    from drawn d
    group by d.number
),
path as materialized (
    select i.number, b.place, list_dot_product(i.strengths, b.waves) as value
    from imitation i
    cross join basis b
),
-- each imitation is lifted beyond a height at one lag, all lags taking their turn
course as materialized (
    select
        p.number, any_value(p.number * 79 % 400 + 0.5) / 400 as share,
        any_value(p.value) filter (p.place = p.turn) as at_turn,
        list({'value': p.value, 'alike': b.alike}) as lags
    from (select h.number, h.place, h.value, h.number * g.lags // 400 as turn from path h cross join given g) p
    join basis b on b.place = abs(p.place - p.turn)
    group by p.number
),
step as materialized (
    select s.step, statistics.normal_height(pow(10, -s.step / 4)) as height
    from unnest(range(49)) s(step)
),
lifted as (
    select
        s.step, c.lags, s.height - 1e-9 as height,
        statistics.normal_height(pow(10, -s.step / 4) * c.share) - c.at_turn as lift
    from course c
    cross join step s
),
exceeding as (
    select l.step, len(list_filter(l.lags, lambda lag: abs(lag.value + lag.alike * l.lift) >= l.height)) as lags
    from lifted l
)
select e.step, greatest(1, g.lags * avg(1.0 / greatest(1, e.lags))) as separate_lags
from exceeding e
cross join given g
group by e.step, g.lags
order by e.step
