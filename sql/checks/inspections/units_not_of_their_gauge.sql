-- purpose: inspections in millimetres with a gauge that reads inches, or the other way round
-- params: as_of
select
    format('inspection {}, shaft {}', inspections.inspection, inspections.shaft) as place,
    format('in {}, but gauge {} reads in {}', inspections.unit, inspections.gauge, gauges.unit) as found,
    'correct the unit, the gauge or which gauge it was, with --correct; sizes that were converted have other steps' as next_step,
    greatest(inspections.intake, gauges.intake) as intake
from checked_inspections as inspections
join known_gauges($as_of::date) as gauges on gauges.gauge = inspections.gauge
where (inspections.unit = 'mm') <> (gauges.unit = 'mm')
order by place;
