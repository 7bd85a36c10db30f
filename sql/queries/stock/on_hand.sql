-- purpose: hubs of a pattern on the shelf, a row an undersize: the last count, and what moved since, as known by a day
-- params: as_of, pattern
with counted as (
    select undersize_um, max(counted_on) as counted_on, arg_max(on_hand, counted_on) as counted
    from known_stock_counts($as_of::date)
    where pattern = $pattern::varchar
    group by undersize_um
),
hub as (
    select hub, undersize_um
    from known_hubs($as_of::date)
    where pattern = $pattern::varchar
),
moves as (
    select undersize_um, made_on as moved_on, quantity as made, 0 as sent, 0 as back
    from known_batches($as_of::date)
    where pattern = $pattern::varchar
    union all
    select hub.undersize_um, dispatch.sent_on, 0, 1, 0
    from known_dispatches($as_of::date) as dispatch
    join hub on hub.hub = dispatch.hub
    union all
    select hub.undersize_um, returned.returned_on, 0, 0, 1
    from known_returns($as_of::date) as returned
    join hub on hub.hub = returned.hub
    where returned.back_on_shelf
),
since as (
    select
        moves.undersize_um,
        sum(moves.made) as made,
        sum(moves.sent) as sent,
        sum(moves.back) as back
    from moves
    left join counted on counted.undersize_um = moves.undersize_um
    where counted.counted_on is null or moves.moved_on > counted.counted_on
    group by moves.undersize_um
),
sizes as (
    select undersize_um from counted
    union
    select undersize_um from moves
)
select
    sizes.undersize_um,
    counted.counted_on,
    counted.counted,
    coalesce(since.made, 0)::integer as made_since,
    coalesce(since.sent, 0)::integer as sent_since,
    coalesce(since.back, 0)::integer as back_since,
    (coalesce(counted.counted, 0) + coalesce(since.made, 0) - coalesce(since.sent, 0) + coalesce(since.back, 0))::integer
        as on_hand
from sizes
left join counted on counted.undersize_um = sizes.undersize_um
left join since on since.undersize_um = sizes.undersize_um
order by sizes.undersize_um;
