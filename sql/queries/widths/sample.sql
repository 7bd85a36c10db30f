-- purpose: shafts taken at random, the same ones each time, of those inspected; of coarsely read ones only so many
-- params: as_of, pattern, most, most_coarse, coarse_home_um, coarse_workshop_um, coarse_caliper_um
-- The order by the digest of a name has nothing to do with what was measured, and stays the same as shafts come in.
with inspected as (
    select
        inspection.shaft as shaft,
        bool_or(
            coalesce(gauge.resolution_um, case when inspection.unit = 'mm' then 10.0 else 25.4 end) > case
                when gauge.kind = 'caliper' then $coarse_caliper_um::double
                when inspection.measured_at = 'workshop' then $coarse_workshop_um::double
                else $coarse_home_um::double
            end
        ) as coarse
    from known_inspections($as_of::date) as inspection
    join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
    left join known_gauges($as_of::date) as gauge on gauge.gauge = inspection.gauge
    where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
    group by inspection.shaft
),
drawn as (
    select
        shaft,
        coarse,
        row_number() over (partition by coarse order by md5(shaft), shaft) as place
    from inspected
)
select shaft, coarse
from drawn
where place <= case when coarse then $most_coarse::bigint else $most::bigint end
order by shaft;
