-- purpose: hubs sent for another shaft or pattern than was ordered or measured, or on an inspection made only later
-- params: as_of
with odd as (
    select
        dispatches.*,
        format('for shaft {}, but order {} is for shaft {}', dispatches.shaft, orders."order", orders.shaft) as found,
        greatest(dispatches.intake, orders.intake) as newest
    from known_dispatches($as_of::date) as dispatches
    join known_orders($as_of::date) as orders on orders."order" = dispatches."order"
    where orders.shaft <> dispatches.shaft
    union all
    select
        dispatches.*,
        format('hub of {}, but order {} is for {}', hubs.pattern, orders."order", orders.pattern),
        greatest(dispatches.intake, orders.intake, hubs.intake)
    from known_dispatches($as_of::date) as dispatches
    join known_orders($as_of::date) as orders on orders."order" = dispatches."order"
    join known_hubs($as_of::date) as hubs on hubs.hub = dispatches.hub
    where orders.pattern <> hubs.pattern
    union all
    select
        dispatches.*,
        format(
            'for shaft {}, on inspection {} of shaft {}',
            dispatches.shaft, inspections.inspection, inspections.shaft
        ),
        greatest(dispatches.intake, inspections.intake)
    from known_dispatches($as_of::date) as dispatches
    join known_inspections($as_of::date) as inspections on inspections.inspection = dispatches.inspection
    where inspections.shaft <> dispatches.shaft
    union all
    select
        dispatches.*,
        format('on inspection {}, which was made on {}', inspections.inspection, inspections.measured_on),
        greatest(dispatches.intake, inspections.intake)
    from known_dispatches($as_of::date) as dispatches
    join known_inspections($as_of::date) as inspections on inspections.inspection = dispatches.inspection
    where inspections.measured_on > dispatches.sent_on
)
select
    format('dispatch of hub {} on {}', hub, sent_on) as place,
    found,
    'correct one of them with --correct' as next_step,
    newest as intake
from odd
order by place, found;
