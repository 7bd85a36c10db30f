-- purpose: how many inspections there are, and how many bear running hours, as known by a day
-- params: as_of, pattern
select
    count(*) as inspections,
    count(inspection.hours) as with_hours
from known_inspections($as_of::date) as inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
order by inspections;
