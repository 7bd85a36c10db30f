-- purpose: readings that mean another width since the unit of their inspection was corrected
-- params: none
create or replace temp table reading_outcomes as
select
    readings.inspection,
    readings.spline,
    readings.station,
    readings.trial,
    restated.width_tenth_um,
    readings.typed,
    'corrected' as outcome
from readings
join inspections on inspections.inspection = readings.inspection
join restated_sizes as restated on restated.unit = inspections.unit and restated.typed = readings.typed
where readings.inspection in (select inspection from touched_inspections)
  and readings.width_tenth_um <> restated.width_tenth_um;
