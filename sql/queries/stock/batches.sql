-- purpose: hubs of a pattern made, a row a day and undersize, as known by a day
-- params: as_of, pattern
select made_on, undersize_um, sum(quantity)::integer as made
from known_batches($as_of::date)
where pattern = $pattern::varchar
group by made_on, undersize_um
order by made_on, undersize_um;
