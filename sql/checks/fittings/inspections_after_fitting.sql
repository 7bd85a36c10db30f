-- purpose: fittings that name an inspection made only after them
-- params: as_of
with named as (
    select fitting, shaft, fitted_on, fitted_to, intake, unnest(inspections) as inspection
    from known_fittings($as_of::date)
)
select
    format('fitting {}, shaft {}', named.fitting, named.shaft) as place,
    format(
        'fitted on {}, but names inspection {} of {}',
        named.fitted_on,
        named.inspection,
        inspections.measured_on
    ) as found,
    'correct one of the dates, or name the inspection that was in hand' as next_step,
    greatest(named.intake, inspections.intake) as intake
from named
join known_inspections($as_of::date) as inspections on inspections.inspection = named.inspection
where inspections.measured_on > named.fitted_to
order by named.fitting, named.inspection;
