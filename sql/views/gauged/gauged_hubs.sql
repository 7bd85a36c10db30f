-- purpose: hubs with their spaces as gauged, known by a day: as made, and as they are now; the newest gauging wins
-- params: none
-- Whatever asks for a hub's size asks here, or fitted_hubs for the hub as it was on the day of a fitting. A gauging tells
-- of the hub until it goes on a shaft or is filed; a width stated without a day is that of the hub as made.
create or replace macro known_gauged_hubs(as_of) as table
with changed as (
    select hub, min(changed_from) as first_on, max(changed_to) as last_on
    from known_hub_changes(as_of)
    group by hub
),
made as (
    select gauging.hub, arg_max(gauging, gauging.gauged_on) as newest
    from known_hub_gaugings(as_of) as gauging
    left join changed on changed.hub = gauging.hub
    where coalesce(gauging.gauged_on <= changed.first_on, true)
    group by gauging.hub
),
now as (
    select gauging.hub, arg_max(gauging, gauging.gauged_on) as newest
    from known_hub_gaugings(as_of) as gauging
    left join changed on changed.hub = gauging.hub
    where coalesce(gauging.gauged_on > changed.last_on, true)
    group by gauging.hub
)
select
    hub.hub,
    hub.pattern,
    hub.undersize_um,
    hub.batch,
    hub.register_mm,
    hub.intake,
    coalesce(now.newest.space_width_mm, made.newest.space_width_mm, hub.space_width_mm) as space_width_mm,
    case
        when now.hub is not null then now.newest.space_u_um
        when made.hub is not null then made.newest.space_u_um
        else hub.space_u_um
    end as space_u_um,
    coalesce(made.newest.space_width_mm, hub.space_width_mm) as made_width_mm,
    case when made.hub is not null then made.newest.space_u_um else hub.space_u_um end as made_u_um,
    coalesce(now.newest.gauged_on, made.newest.gauged_on) as gauged_on,
    coalesce(now.newest, made.newest).taper_um as taper_um,
    coalesce(now.newest, made.newest).spread_um as spread_um,
    coalesce(now.newest, made.newest).places as places,
    -- gauged since it was changed, or never changed
    now.hub is not null as gauged_as_is,
    made.newest.intake as gauging_intake
from known_hubs(as_of) as hub
left join made on made.hub = hub.hub
left join now on now.hub = hub.hub;
