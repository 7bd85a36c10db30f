-- purpose: the different widths, as typed, of inspections restated by this intake, with the unit they now stand in
-- params: none
select inspections.unit, readings.typed, min(readings.inspection) as inspection
from readings
join inspections on inspections.inspection = readings.inspection
where readings.inspection in (select inspection from touched_inspections)
group by inspections.unit, readings.typed
order by inspections.unit, readings.typed;
