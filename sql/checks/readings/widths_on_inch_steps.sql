-- purpose: inspections in mm whose values all fall on steps of 0.001 or 0.0005 in, as if converted from an inch gauge
-- params: as_of
-- A value falls on a step if it is a multiple of it rounded to the last decimal typed. By chance that happens to one
-- value in (step of the grid / last decimal), so it says something only when several different values all do: two of
-- them on 0.001 in, three on 0.0005 in where the last decimal is 0.001 mm. The bound is judgement. Values on 5 um or
-- coarser metric steps are what a metric gauge reads.
with in_mm as (
    select inspection, shaft
    from checked_inspections
    where unit = 'mm'
),

-- with two decimals a value lies at most 50 tenths of a um off its step, and with fewer it says nothing
near as (
    select readings.inspection
    from known_readings($as_of::date) as readings
    semi join in_mm on in_mm.inspection = readings.inspection
    group by readings.inspection
    having max(abs(readings.width_tenth_um - round(readings.width_tenth_um / 127.0) * 127.0)) <= 50.01
),

widths as (
    select distinct
        readings.inspection,
        in_mm.shaft,
        readings.width_tenth_um,
        max(readings.intake) over (partition by readings.inspection) as intake,
        max(length(split_part(replace(readings.typed, ',', '.'), '.', 2)))
            over (partition by readings.inspection) as decimals
    from known_readings($as_of::date) as readings
    semi join near on near.inspection = readings.inspection
    join in_mm on in_mm.inspection = readings.inspection
),

-- the coarser grid first: what lies on it lies on the finer one too
grids as (
    select unnest([0.001, 0.0005]) as step_in, unnest([254.0, 127.0])::double as step_tenth_um
),

judged as (
    select
        widths.inspection,
        any_value(widths.shaft) as shaft,
        max(widths.intake) as intake,
        grids.step_in,
        count(*) as different,
        bool_and(
            abs(widths.width_tenth_um - round(widths.width_tenth_um / grids.step_tenth_um) * grids.step_tenth_um)
            <= greatest(10 ** (4 - widths.decimals), 1) / 2 + 0.01
        ) as on_inch_steps,
        bool_and(widths.width_tenth_um % 50 = 0) as on_metric_steps,
        (least(greatest(10 ** (4 - any_value(widths.decimals)), 1) / grids.step_tenth_um, 1)) ** count(*) as by_chance
    from widths
    cross join grids
    group by widths.inspection, grids.step_in, grids.step_tenth_um
)
select
    format('inspection {}, shaft {}', inspection, any_value(shaft)) as place,
    format(
        'said to be in mm, yet all {} different values fall on steps of {} in',
        any_value(different),
        max(step_in)
    ) as found,
    'ask which gauge was used; if an inch one, correct the gauge and its resolution' as next_step,
    max(intake) as intake
from judged
where on_inch_steps and not on_metric_steps and by_chance <= 0.002
group by inspection
order by inspection;
