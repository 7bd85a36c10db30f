-- purpose: the shafts that were measured, of one pattern or of all
-- params: as_of, pattern
select distinct shaft.shaft as shaft
from known_shafts($as_of::date) as shaft
join known_inspections($as_of::date) as inspection on inspection.shaft = shaft.shaft
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
order by shaft;
