-- purpose: hubs of a pattern whose spaces were gauged, with the uncertainty said of it, as known by a day
-- params: as_of, pattern
select hub, batch, undersize_um, space_width_mm, space_u_um
from known_hubs($as_of::date)
where pattern = $pattern::varchar and space_width_mm is not null
order by hub;
