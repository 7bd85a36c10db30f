-- purpose: major diameters read on shafts, as known by a day
-- params: as_of, shafts
select shaft, inspection, major_mm
from known_inspections($as_of::date)
where major_mm is not null and shaft in (select unnest($shafts::varchar[]))
order by shaft, inspection;
