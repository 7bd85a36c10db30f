-- purpose: fittings of which more sides bear than the shaft has splines
-- params: as_of
select
    format('fitting {}, shaft {}', fittings.fitting, fittings.shaft) as place,
    format(
        '{} sides bear on one side of {} splines',
        greatest(coalesce(fittings.drive_marked, 0), coalesce(fittings.coast_marked, 0)), patterns.splines
    ) as found,
    'count a spline once a side, however many of its boxes are ticked; until then its marks are not used' as next_step,
    greatest(fittings.intake, patterns.intake) as intake
from known_fittings($as_of::date) as fittings
join known_shafts($as_of::date) as shafts on shafts.shaft = fittings.shaft
join patterns on patterns.pattern = shafts.pattern
where fittings.drive_marked > patterns.splines or fittings.coast_marked > patterns.splines
order by fittings.fitting;
