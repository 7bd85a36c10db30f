-- purpose: the readings of every inspection reduced by spline and station: count, mean from the new width, inner squares
-- params: as_of, pattern, shafts
select
    moments.inspection as inspection,
    moments.spline as spline,
    list_position(pattern.stations, moments.station) - 1 as station,
    moments.n as n,
    (moments.sum_tenth_um::double / moments.n - pattern.width_mm * 10000) / 10 as mean_um,
    -- in integers, so that nothing cancels: n times the inner sum of squares
    (moments.sumsq * moments.n - moments.sum_tenth_um::hugeint * moments.sum_tenth_um)::double
        / moments.n / 100 as within_um2
from stated_moments($as_of::date) as moments
join known_inspections($as_of::date) as inspection on inspection.inspection = moments.inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
join known_patterns($as_of::date) as pattern on pattern.pattern = shaft.pattern
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
  and ($shafts::varchar[] is null or inspection.shaft in (select unnest($shafts::varchar[])))
  and list_contains(pattern.stations, moments.station)
  and moments.spline between 1 and pattern.splines
order by moments.inspection, moments.spline, station;
