-- purpose: patterns whose new width, or number of splines, is not that of the shafts that were measured
-- params: as_of
-- Of the first 200 inspections of a pattern, five or more. Nine in ten shafts narrower by 3 % of the width (0.18 mm on
-- 6 mm, more than is worn when a shaft is scrapped: judgement) or half of them wider by 30 um (a new shaft is under the
-- nominal width in every fit of ISO 14) speak against the width. Told with the fifth inspection, or with the pattern.
with known as (
    select *
    from known_patterns($as_of::date)
),

wanted as (
    select inspections.inspection, shafts.pattern, inspections.intake
    from known_inspections($as_of::date) as inspections
    join known_shafts($as_of::date) as shafts on shafts.shaft = inspections.shaft
    qualify row_number() over (partition by shafts.pattern order by inspections.inspection) <= 200
),

read as (
    select
        wanted.pattern,
        wanted.intake,
        max(moments.spline) as splines,
        sum(moments.sum_tenth_um)::double / sum(moments.n) / 10 as mean_um
    from inspection_moments as moments
    join wanted on wanted.inspection = moments.inspection
    group by wanted.pattern, wanted.inspection, wanted.intake
),

told as (
    select
        pattern,
        count(*) as inspections,
        max(splines) as splines,
        median(mean_um) as middle_um,
        quantile_cont(mean_um, 0.9) as widest_um,
        list_sort(list(intake))[5] as intake
    from read
    group by pattern
    having count(*) >= 5
),

odd as (
    select
        known.pattern,
        greatest(known.intake, told.intake) as intake,
        case
            when told.splines < known.splines
                then format(
                    '{} splines, but in {} inspections none beyond spline {} was measured',
                    known.splines, told.inspections, told.splines
                )
            when told.widest_um < 0.97 * 1000 * known.width_mm
                then format(
                    'new width {:.3f} mm, but of {} inspections nine in ten read {:.3f} mm or less',
                    known.width_mm, told.inspections, told.widest_um / 1000
                )
            when told.middle_um > 1000 * known.width_mm + 30
                then format(
                    'new width {:.3f} mm, but of {} inspections half read {:.3f} mm or more',
                    known.width_mm, told.inspections, told.middle_um / 1000
                )
        end as found
    from known
    join told on told.pattern = known.pattern
)
select
    format('pattern {}', pattern) as place,
    found,
    'if it is a slip, correct the pattern with --correct: everything counts from these sizes' as next_step,
    intake
from odd
where found is not null
order by pattern;
