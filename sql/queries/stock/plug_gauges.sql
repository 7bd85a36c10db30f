-- purpose: the plug gauges that batches of a pattern were held between, a row a batch, as known by a day
-- params: as_of, pattern
select batch, undersize_um, go_mm, no_go_mm
from known_batches($as_of::date)
where pattern = $pattern::varchar and no_go_mm > go_mm
order by batch;
