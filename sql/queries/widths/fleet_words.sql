-- purpose: the patterns, regions and duties of shafts, as known by a day
-- params: as_of, pattern
select distinct
    shaft.pattern as pattern,
    shaft.region as region,
    shaft.duty as duty
from known_shafts($as_of::date) as shaft
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
order by shaft.pattern, shaft.region, shaft.duty;
