-- purpose: hubs of a pattern whose spaces were gauged, with the uncertainty said of it, as known by a day
-- params: as_of, pattern
select hub, batch, undersize_um, made_width_mm as space_width_mm, made_u_um as space_u_um
from known_gauged_hubs($as_of::date)
where pattern = $pattern::varchar and made_width_mm is not null
order by hub;
