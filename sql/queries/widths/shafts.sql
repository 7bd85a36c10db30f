-- purpose: how many shafts have been inspected, by pattern, as known by a day
-- params: as_of, pattern
select
    shaft.pattern as pattern,
    count(distinct inspection.shaft) as shafts
from known_inspections($as_of::date) as inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
group by shaft.pattern
order by shaft.pattern;
