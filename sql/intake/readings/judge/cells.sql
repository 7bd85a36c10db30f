-- purpose: the different places, as typed, that arriving readings name, by unit and pattern
-- params: none
select
    inspections.kind,
    readings.spline,
    readings.station,
    readings.trial,
    any_value(inspections.pattern) as pattern,
    any_value(inspections.splines) as splines,
    any_value(array_to_string(inspections.stations, ';')) as stations
from arriving_readings as readings
join arriving_inspections as inspections
    on inspections.text = readings.inspection and inspections.said_unit = readings.unit
group by inspections.kind, readings.spline, readings.station, readings.trial
order by inspections.kind, readings.spline, readings.station, readings.trial;
