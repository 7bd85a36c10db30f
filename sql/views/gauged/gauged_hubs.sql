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
told as (
    select
        gauging.hub,
        arg_max(gauging, gauging.gauged_on) filter (coalesce(gauging.gauged_on <= changed.first_on, true)) as made,
        arg_max(gauging, gauging.gauged_on) filter (coalesce(gauging.gauged_on > changed.last_on, true)) as now
    from known_hub_gaugings(as_of) as gauging
    left join changed on changed.hub = gauging.hub
    group by gauging.hub
)
select
    hub.hub,
    hub.pattern,
    hub.undersize_um,
    hub.batch,
    hub.register_mm,
    hub.intake,
    coalesce(told.now.space_width_mm, told.made.space_width_mm, hub.space_width_mm) as space_width_mm,
    case
        when told.now is not null then told.now.space_u_um
        when told.made is not null then told.made.space_u_um
        else hub.space_u_um
    end as space_u_um,
    coalesce(told.made.space_width_mm, hub.space_width_mm) as made_width_mm,
    case when told.made is not null then told.made.space_u_um else hub.space_u_um end as made_u_um,
    coalesce(told.now.gauged_on, told.made.gauged_on) as gauged_on,
    coalesce(told.now, told.made).taper_um as taper_um,
    coalesce(told.now, told.made).spread_um as spread_um,
    coalesce(told.now, told.made).places as places,
    -- gauged since it was changed, or never changed
    told.now is not null as gauged_as_is,
    told.made.intake as gauging_intake
from known_hubs(as_of) as hub
left join told on told.hub = hub.hub;
