-- purpose: inspections of several splines whose readings are all the same
-- params: as_of
select
    format('inspection {}, shaft {}', inspections.inspection, any_value(inspections.shaft)) as place,
    format('all {} readings are {:.4f} mm', count(*), min(readings.width_tenth_um) / 10000) as found,
    'ask whether each spline was measured' as next_step,
    max(readings.intake) as intake
from known_readings($as_of::date) as readings
join checked_inspections as inspections on inspections.inspection = readings.inspection
group by inspections.inspection
having min(readings.spline) < max(readings.spline)
    and count(*) > 3
    and min(readings.width_tenth_um) = max(readings.width_tenth_um)
order by inspections.inspection;
