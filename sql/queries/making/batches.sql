-- purpose: batches of a pattern in the order in which they were made, with their plug gauges, as known by a day
-- params: as_of, pattern
select
    batch,
    go_mm,
    no_go_mm,
    material,
    case when hardened then 'yes' when not hardened then 'no' end as hardened
from known_batches($as_of::date)
where pattern = $pattern::varchar
order by made_on, batch;
