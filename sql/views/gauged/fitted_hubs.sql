-- purpose: the spaces of the hub of each fitting as they were gauged before it, as known by a day
-- params: none
create or replace macro known_fitted_hubs(as_of) as table
with changes as (
    select
        *,
        -- the day from which on a gauging may tell of the hub that went on here
        max(changed_to) over (
            partition by hub order by changed_from, changed_to, fitting rows between unbounded preceding and 1 preceding
        ) as before_to
    from known_hub_changes(as_of)
),
tried as (
    select fitting, hub, changed_from, before_to from changes
    union all
    -- what would not go on changed nothing
    select made.fitting, made.hub, coalesce(made.fitted_from, made.known_from, as_of), max(changes.changed_to)
    from known_fittings(as_of) as made
    left join changes
        on changes.hub = made.hub and changes.changed_to < coalesce(made.fitted_from, made.known_from, as_of)
    where made.hub in (select hub from known_hub_spaces(as_of))
      and made.fitting not in (select fitting from changes)
    group by all
),
gauged as (
    select tried.fitting, arg_max(gauging, gauging.gauged_on) as newest
    from tried
    join known_hub_gaugings(as_of) as gauging
        on gauging.hub = tried.hub
        and gauging.gauged_on <= tried.changed_from
        and (tried.before_to is null or gauging.gauged_on > tried.before_to)
    group by tried.fitting
)
select
    made.fitting,
    hub.hub,
    hub.pattern,
    hub.undersize_um,
    hub.batch,
    hub.register_mm,
    hub.intake,
    -- what was gauged since it last changed, else what it was made with
    coalesce(gauged.newest.space_width_mm, hub.made_width_mm) as space_width_mm,
    case when gauged.fitting is not null then gauged.newest.space_u_um else hub.made_u_um end as space_u_um
from known_fittings(as_of) as made
join known_gauged_hubs(as_of) as hub on hub.hub = made.hub
left join gauged on gauged.fitting = made.fitting;
