-- purpose: the shafts that hubs were sent for or fitted on by a day, in an order that has nothing to do with either
-- params: as_of, pattern
-- The order by the digest of a name stays the same as shafts come in: the first so many are a sample of all.
select seen.shaft as shaft
from (
    select shaft from known_fittings($as_of::date)
    union
    select shaft from known_dispatches($as_of::date) where shaft is not null
) as seen
left join known_shafts($as_of::date) as shaft on shaft.shaft = seen.shaft
where $pattern::varchar is null or shaft.pattern = $pattern::varchar
order by md5(seen.shaft), seen.shaft;
