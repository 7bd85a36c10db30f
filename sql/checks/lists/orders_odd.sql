-- purpose: orders of another pattern than their shaft's, or made after what they ordered was sent
-- params: as_of
with odd as (
    select
        orders."order",
        format('of {}, but shaft {} is {}', orders.pattern, orders.shaft, shafts.pattern) as found,
        greatest(orders.intake, shafts.intake) as intake
    from known_orders($as_of::date) as orders
    join known_shafts($as_of::date) as shafts on shafts.shaft = orders.shaft
    where orders.pattern <> shafts.pattern
    union all
    select
        orders."order",
        format('made on {}, but hub {} was sent for it on {}', orders.ordered_on, dispatches.hub, dispatches.sent_on),
        greatest(orders.intake, dispatches.intake)
    from known_orders($as_of::date) as orders
    join known_dispatches($as_of::date) as dispatches on dispatches."order" = orders."order"
    where dispatches.sent_on < orders.ordered_on
)
select
    format('order {}', "order") as place,
    found,
    'correct one of them with --correct' as next_step,
    intake
from odd
order by place, found;
