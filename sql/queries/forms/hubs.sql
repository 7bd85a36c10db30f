-- purpose: a hub as a fitting sheet names it, with its spaces as gauged where they were
-- params: as_of, hub
select
    hub.hub as hub,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.space_width_mm as space_width_mm,
    hub.space_u_um as space_u_um,
    hub.register_mm as register_mm,
    -- by space and end, before it went on a shaft and not since: on another shaft it says nothing
    hub.gauged_on is not null and not hub.gauged_as_is as gauged_before,
    (
        select arg_max(fitting.shaft, coalesce(fitting.fitted_to, fitting.known_from, $as_of::date))
        from known_fittings($as_of::date) as fitting
        where fitting.hub = hub.hub
    ) as last_on
from known_gauged_hubs($as_of::date) as hub
where hub.hub = $hub::varchar
order by hub.hub;
