-- purpose: inspections with a width more than 50 um above the pattern's new one, and the place that stands out most
-- params: as_of
-- With a caliper 100 um: it is off by 20 to 30 um and scatters by 15 (from memory), so 50 um happen by chance.
with above as (
    select
        readings.inspection,
        inspections.shaft,
        readings.spline,
        readings.station,
        readings.width_tenth_um,
        readings.intake,
        round(patterns.width_mm::decimal(12, 6) * 10000)::integer as new_tenth_um,
        if(gauges.kind = 'caliper', 1000, 500) as most_tenth_um
    from known_readings($as_of::date) as readings
    join checked_inspections as inspections on inspections.inspection = readings.inspection
    join shafts on shafts.shaft = inspections.shaft
    join patterns on patterns.pattern = shafts.pattern
    left join gauges on gauges.gauge = inspections.gauge
    where readings.width_tenth_um > round(patterns.width_mm::decimal(12, 6) * 10000)::integer + if(gauges.kind = 'caliper', 1000, 500)
)
select
    format('inspection {}, shaft {}', inspection, any_value(shaft)) as place,
    format(
        '{} of its widths more than {} µm above the new {:.3f} mm; most: spline {}, {}, {:.4f} mm',
        count(*),
        any_value(most_tenth_um) // 10,
        any_value(new_tenth_um) / 10000,
        arg_max(spline, (width_tenth_um, -spline, station)),
        arg_max(station, (width_tenth_um, -spline, station)),
        max(width_tenth_um) / 10000
    ) as found,
    'check the unit and the zero of the gauge; a shaft that was built up needs a shaft event' as next_step,
    max(intake) as intake
from above
group by inspection
order by inspection;
