-- purpose: a hub as a fitting sheet names it, with its spaces as gauged where they were
-- params: as_of, hub
select
    hub.hub as hub,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.space_width_mm as space_width_mm
from known_hubs($as_of::date) as hub
where hub.hub = $hub::varchar
order by hub.hub;
