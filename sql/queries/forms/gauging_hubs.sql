-- purpose: a hub, or those of a batch, as a gauging sheet and a label name them, with the newest gauging that holds
-- params: as_of, hubs, batch
select
    hub.hub as hub,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.batch as batch,
    case when hub.gauged_as_is then hub.space_width_mm end as space_width_mm,
    case when hub.gauged_as_is then hub.space_u_um end as space_u_um,
    case when hub.gauged_as_is then hub.taper_um end as taper_um,
    case when hub.gauged_as_is then hub.spread_um end as spread_um,
    case when hub.gauged_as_is then hub.gauged_on end as gauged_on
from known_gauged_hubs($as_of::date) as hub
where hub.hub in (select unnest($hubs::varchar[])) or hub.batch = $batch::varchar
order by hub.hub;
