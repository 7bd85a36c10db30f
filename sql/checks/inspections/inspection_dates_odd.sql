-- purpose: inspections before their shaft was first seen, and what is said of a shaft after it was scrapped
-- params: as_of
with scrapped as (
    select shaft, min(happened_on) as day, max(intake) as intake
    from known_shaft_events($as_of::date)
    where what = 'scrapped'
    group by shaft
),

odd as (
    select
        format('inspection {}, shaft {}', inspections.inspection, inspections.shaft) as place,
        format('measured on {}, but first seen on {}', inspections.measured_on, shafts.first_seen_on) as found,
        greatest(inspections.intake, shafts.intake) as intake
    from known_inspections($as_of::date) as inspections
    join known_shafts($as_of::date) as shafts on shafts.shaft = inspections.shaft
    where inspections.measured_on < shafts.first_seen_on
    union all
    select
        format('inspection {}, shaft {}', inspections.inspection, inspections.shaft),
        format('measured on {}, after the shaft was scrapped on {}', inspections.measured_on, scrapped.day),
        greatest(inspections.intake, scrapped.intake)
    from known_inspections($as_of::date) as inspections
    join scrapped on scrapped.shaft = inspections.shaft
    where inspections.measured_on > scrapped.day
    union all
    select
        format('fitting {}, shaft {}', fittings.fitting, fittings.shaft),
        format('fitted on {}, after the shaft was scrapped on {}', fittings.fitted_on, scrapped.day),
        greatest(fittings.intake, scrapped.intake)
    from known_fittings($as_of::date) as fittings
    join scrapped on scrapped.shaft = fittings.shaft
    where fittings.fitted_from > scrapped.day
)
select
    place,
    found,
    'correct one of the days, or which shaft it was, with --correct' as next_step,
    intake
from odd
order by place, found;
