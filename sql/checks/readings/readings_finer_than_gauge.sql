-- purpose: inspections most of whose readings lie between the steps of the gauge they are said to be made with
-- params: as_of
-- Half a step is honest: people read between the marks. Sizes in another unit than the gauge's have been converted.
with stepped as (
    select
        inspections.inspection,
        inspections.shaft,
        gauges.gauge,
        gauges.resolution,
        gauges.unit,
        5 * gauges.resolution_um as half_step,
        greatest(inspections.intake, gauges.intake) as intake
    from checked_inspections as inspections
    join known_gauges($as_of::date) as gauges on gauges.gauge = inspections.gauge
    -- finer steps than widths are kept to tell nothing
    where (inspections.unit = 'mm') = (gauges.unit = 'mm') and gauges.resolution_um > 0.5
)
select
    format('inspection {}, shaft {}', stepped.inspection, any_value(stepped.shaft)) as place,
    format(
        '{} of {} readings, such as {}, lie between the steps of {:g} {} that gauge {} reads in',
        count(*) filter (where abs(width_tenth_um - round(width_tenth_um / half_step) * half_step) > 0.75),
        count(*),
        arg_max(readings.typed, abs(width_tenth_um - round(width_tenth_um / half_step) * half_step)),
        any_value(stepped.resolution), any_value(stepped.unit), any_value(stepped.gauge)
    ) as found,
    'ask which gauge it was; correct the step of the gauge, or which one it was, with --correct' as next_step,
    greatest(any_value(stepped.intake), max(readings.intake)) as intake
from known_readings($as_of::date) as readings
join stepped on stepped.inspection = readings.inspection
group by stepped.inspection
having count(*) > 3
    and 2 * count(*) filter (where abs(width_tenth_um - round(width_tenth_um / half_step) * half_step) > 0.75)
        > count(*)
order by place;
