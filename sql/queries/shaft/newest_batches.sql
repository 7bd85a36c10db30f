-- purpose: the gauges that the newest batch of every size of a pattern was held between, as known by a day
-- params: as_of, pattern
select undersize_um, arg_max(go_mm, made_on) as go_mm, arg_max(no_go_mm, made_on) as no_go_mm
from known_batches($as_of::date)
where pattern = $pattern::varchar
group by undersize_um
order by undersize_um;
