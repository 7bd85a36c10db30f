-- purpose: hubs with their batch and gauged space, and whether whoever got it was warned, a row a hub, as known by a day
-- params: as_of
select
    hub.hub as hub,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.batch as batch,
    hub.space_width_mm as space_width_mm,
    hub.space_u_um as space_u_um,
    (pattern.space_width_mm - hub.undersize_um / 1000.0) as nominal_space_mm,
    bool_or(dispatch.told) as told
from known_hubs($as_of::date) as hub
left join known_patterns($as_of::date) as pattern on pattern.pattern = hub.pattern
left join known_dispatches($as_of::date) as dispatch on dispatch.hub = hub.hub
group by all
order by hub.hub;
