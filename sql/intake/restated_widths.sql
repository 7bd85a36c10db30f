-- purpose: the different widths, as typed, of inspections restated by this intake, with the unit they now stand in
-- params: none
select distinct inspections.unit, readings.typed
from readings
join inspections on inspections.inspection = readings.inspection
where readings.inspection in (select inspection from touched_inspections)
order by inspections.unit, readings.typed;
