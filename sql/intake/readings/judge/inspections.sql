-- purpose: the different inspections that arriving readings name, numbered, with what their readings are measured against
-- params: none
create or replace temp table arriving_inspections as
with texts as (
    select
        inspection as text,
        unit as said_unit,
        regexp_replace(
            regexp_replace(trim(inspection), '^''(''*[=+@\t\r-])', '\1'), '([;\t\n\r])''(''*[=+@-])', '\1\2', 'g'
        ) as name
    from arriving_readings
    group by all
)
select
    texts.text,
    texts.said_unit,
    texts.name,
    dense_rank() over (order by texts.name) as no,
    inspections.inspection is not null as known,
    inspections.unit,
    patterns.pattern,
    patterns.splines,
    patterns.stations,
    round(patterns.width_mm::decimal(12, 6) * 10000)::integer as new_tenth_um,
    dense_rank() over (order by inspections.unit, patterns.pattern) as kind,
    coalesce(gauges.resolution_um, 10) >= 5 as coarse, -- an unknown gauge is taken for one that reads 0.01 mm
    stored.inspection is not null or texts.name in (select inspection from gone_readings) as stored,
    inspections.gone as gone, -- its own row was retracted: it is known, and nothing is added to it
    kept_out.column_name as kept_out
from texts
left join (
    select inspection, shaft, gauge, unit, false as gone from inspections
    union all
    select inspection, shaft, gauge, unit, true from gone_inspections where inspection not in (select inspection from inspections)
) as inspections on inspections.inspection = texts.name
left join shafts on shafts.shaft = inspections.shaft
left join patterns on patterns.pattern = shafts.pattern
left join gauges on gauges.gauge = inspections.gauge
left join (select distinct inspection from reading_intakes) as stored on stored.inspection = texts.name
left join (
    select json_extract_string(row_json, '$.inspection') as inspection, any_value(column_name) as column_name
    from rejects
    where table_name = 'inspections' and outcome = 'rejected' and intake = (select max(intake) from intakes)
    group by 1
) as kept_out on kept_out.inspection = texts.name;
