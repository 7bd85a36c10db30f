-- purpose: every place's count and sum with the row of its inspection, from 0 as fleet_inspections orders them
-- params: as_of, pattern, stations
with looked as (
    select
        inspection.inspection as inspection,
        row_number() over (order by inspection.shaft, inspection.inspection) - 1 as inspection_row
    from known_inspections($as_of::date) as inspection
    join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
    where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
)
select
    looked.inspection_row::integer as inspection_row,
    moments.spline::smallint as spline,
    coalesce(list_position($stations::varchar[], moments.station), 0)::smallint as station,
    moments.n::integer as n,
    moments.sum_tenth_um as sum_tenth_um
from known_inspection_moments($as_of::date) as moments
join looked on looked.inspection = moments.inspection;
