-- purpose: each inspection as numbers, words by their place in lists (from 1): as width_inspections, for large fleets
-- params: as_of, pattern, patterns, regions, duties, kinds
with ran as (select shaft, ran_from, ran_to from known_runs($as_of::date))
select
    inspection.shaft as shaft,
    coalesce(list_position($patterns::varchar[], shaft.pattern), 0)::smallint as pattern,
    coalesce(list_position($regions::varchar[], shaft.region), 0)::smallint as region,
    coalesce(list_position($duties::varchar[], shaft.duty), 0)::smallint as duty,
    (inspection.measured_on - date '1900-01-01')::integer as measured_day,
    list_position(
        $kinds::varchar[],
        case when gauge.kind = 'caliper' then 'caliper' else inspection.measured_at end
    )::smallint as kind,
    hash(inspection.measured_by || ' / ' || inspection.gauge) as measurer,
    coalesce(gauge.resolution_um, case when inspection.unit = 'mm' then 10.0 else 25.4 end)::float as step_um,
    ((inspection.check_reading_mm - coalesce(piece.size_mm, inspection.check_piece_mm)) * 1000)::float as check_um,
    if(inspection.check_reading_mm is null, null, piece.size_u_um)::float as piece_u_um,
    coalesce(hash(piece.piece), 0) as piece,
    coalesce(inspection.spline_1_marked, false) as marked,
    (
        select count(*)
        from ran
        where ran.shaft = inspection.shaft and ran.ran_from < inspection.measured_on
    )::integer as hubs_before,
    (
        select count(*)
        from ran
        where ran.shaft = inspection.shaft and ran.ran_to < inspection.measured_on
    )::integer as hubs_surely_before
from known_inspections($as_of::date) as inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
left join known_gauges($as_of::date) as gauge on gauge.gauge = inspection.gauge
left join known_check_pieces($as_of::date) as piece on piece.piece = inspection.piece
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
order by inspection.shaft, inspection.inspection;
