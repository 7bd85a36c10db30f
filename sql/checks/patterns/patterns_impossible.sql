-- purpose: patterns whose sizes cannot belong to one shaft, a row a contradiction
-- params: as_of
-- The rules of wearstats.domain.pattern, which intake holds to: only a store of an older program has such rows.
with known as (
    select *
    from known_patterns($as_of::date)
),

wrong as (
    select pattern, intake, format('{} splines, where three are the fewest', splines) as found
    from known
    where splines < 3
    union all
    select pattern, intake, format('sizes of {}, {}, {} and {} mm', width_mm, space_width_mm, minor_mm, engaged_mm)
    from known
    where not least(width_mm, space_width_mm, minor_mm, engaged_mm) > 0
    union all
    select pattern, intake, format('major diameter {:.3f} mm, where the minor is {:.3f} mm', major_mm, minor_mm)
    from known
    where not major_mm > minor_mm
    union all
    select
        pattern,
        intake,
        format('{} splines of {:.3f} mm leave no spaces on a minor diameter of {:.3f} mm', splines, width_mm, minor_mm)
    from known
    where splines * width_mm >= pi() * minor_mm
    union all
    select pattern, intake, format('stations ''{}''', array_to_string(stations, ';'))
    from known
    where len(stations) = 0 or len(list_distinct(stations)) < len(stations)
)
select
    format('pattern {}', pattern) as place,
    found,
    'correct its row with --correct; until then every question leaves this pattern out' as next_step,
    intake
from wrong
order by pattern, found;
