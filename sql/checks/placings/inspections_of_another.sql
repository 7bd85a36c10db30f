-- purpose: fittings that name an inspection of another shaft
-- params: as_of
with named as (
    select fitting, shaft, intake, unnest(inspections) as inspection
    from known_fittings($as_of::date)
)
select
    format('fitting {}', named.fitting) as place,
    format('on shaft {}, but names inspection {} of shaft {}', named.shaft, named.inspection, inspections.shaft) as found,
    'correct which inspection, or which shaft, with --correct' as next_step,
    greatest(named.intake, inspections.intake) as intake
from named
join known_inspections($as_of::date) as inspections on inspections.inspection = named.inspection
where inspections.shaft <> named.shaft
order by place, found;
