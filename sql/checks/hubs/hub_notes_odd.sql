-- purpose: hubs whose gauging is said to be finer or coarser than gauging can be, or whose register is not the pattern's
-- params: as_of
-- Spaces are gauged to one or some um: under 0.1 um it is millimetres, over 20 um no gauging (judgement). A register is
-- bored for the pattern's within half a millimetre (common practice, no source: fits of registers are some 0.05 mm).
with odd as (
    select hub, format('space_u_um {:g}', space_u_um) as found, intake
    from known_hubs($as_of::date)
    where (space_u_um > 0 and space_u_um < 0.1) or space_u_um > 20
    union all
    select
        hubs.hub,
        format('register {:.3f} mm, where {} has {:.3f} mm', hubs.register_mm, hubs.pattern, patterns.register_mm),
        greatest(hubs.intake, patterns.intake)
    from known_hubs($as_of::date) as hubs
    join known_patterns($as_of::date) as patterns on patterns.pattern = hubs.pattern
    where abs(hubs.register_mm - patterns.register_mm) > 0.5
)
select
    format('hub {}', hub) as place,
    found,
    'if it is a slip, correct it with --correct' as next_step,
    intake
from odd
order by place, found;
