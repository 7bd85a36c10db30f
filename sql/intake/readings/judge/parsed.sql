-- purpose: arriving readings as values, each with the numbers of what is wrong with it
-- params: none
create or replace temp table parsed_readings as
select
    readings.row_id,
    readings.row_no,
    inspections.no,
    inspections.name as inspection,
    cells.cell,
    cells.spline,
    cells.station,
    cells.trial,
    widths.width_tenth_um,
    trim(readings.width) as typed,
    inspections.stored or coalesce(inspections.gone, false) as stored,
    coalesce(inspections.gone, false) as gone,
    inspections.coarse,
    inspections.problem is null and cells.problems is null and widths.problem is null as sound,
    case when not sound then list_concat([inspections.problem], cells.problems, [widths.problem]) end as problems
from arriving_readings as readings
join judged_inspections as inspections
    on inspections.text = readings.inspection and inspections.said_unit = readings.unit
join judged_cells as cells
    on cells.kind = inspections.kind
    and cells.spline_text = readings.spline
    and cells.station_text = readings.station
    and cells.trial_text = readings.trial
join arriving_widths as widths
    on widths.kind = inspections.kind and widths.text = readings.width;
