-- purpose: each inspection with who measured by what, and how many hubs may have run, and have, on its shaft before it
-- params: as_of, pattern, shafts
with ran as (select shaft, ran_from, ran_to from runs_of_shafts($as_of::date, $shafts::varchar[]))
select
    inspection.inspection as inspection,
    inspection.shaft as shaft,
    shaft.pattern as pattern,
    shaft.duty as duty,
    shaft.region as region,
    inspection.measured_on as measured_on,
    inspection.measured_at as measured_at,
    inspection.measured_by || ' / ' || inspection.gauge as measurer,
    coalesce(gauge.kind, 'micrometer-flat') as gauge_kind,
    coalesce(gauge.resolution_um, case when inspection.unit = 'mm' then 10.0 else 25.4 end) as step_um,
    inspection.unit as read_in,
    (inspection.check_reading_mm - coalesce(piece.size_mm, inspection.check_piece_mm)) * 1000 as check_um,
    if(inspection.check_reading_mm is null, null, piece.size_u_um) as piece_u_um,
    if(inspection.check_reading_mm is null, null, piece.piece) as piece,
    coalesce(inspection.spline_1_marked, false) as marked,
    inspection.register_mm as register_mm,
    inspection.hours as hours,
    (
        select count(*)
        from ran
        where ran.shaft = inspection.shaft and ran.ran_from < inspection.measured_on
    ) as hubs_before,
    (
        select count(*)
        from ran
        where ran.shaft = inspection.shaft and ran.ran_to < inspection.measured_on
    ) as hubs_surely_before
from known_inspections($as_of::date) as inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
left join known_gauges($as_of::date) as gauge on gauge.gauge = inspection.gauge
left join known_check_pieces($as_of::date) as piece on piece.piece = inspection.piece
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
  and ($shafts::varchar[] is null or inspection.shaft in (select unnest($shafts::varchar[])))
order by inspection.shaft, inspection.measured_on, inspection.inspection;
