-- purpose: hubs of a pattern on the shelf, a row an undersize: the last count, and what moved since, as known by a day
-- params: as_of, pattern
with counted as (
    select undersize_um, max(counted_on) as counted_on, arg_max(on_hand, counted_on) as counted
    from known_stock_counts($as_of::date)
    where pattern = $pattern::varchar
    group by undersize_um
),
withdrawn as (
    select batch, coalesce(withdrawn_on, $as_of::date) as withdrawn_on
    from known_withdrawn_batches($as_of::date)
),
hub as (
    select hub.hub, hub.undersize_um, hub.batch, withdrawn.withdrawn_on
    from known_hubs($as_of::date) as hub
    left join withdrawn on withdrawn.batch = hub.batch
    where hub.pattern = $pattern::varchar
),
hub_moves as (
    select hub.undersize_um, hub.batch, hub.withdrawn_on, dispatch.sent_on as moved_on, 1 as sent, 0 as back
    from known_dispatches($as_of::date) as dispatch
    join hub on hub.hub = dispatch.hub
    union all
    select hub.undersize_um, hub.batch, hub.withdrawn_on, returned.returned_on, 0, 1
    from known_returns($as_of::date) as returned
    join hub on hub.hub = returned.hub
    where returned.back_on_shelf
),
-- what lay on the shelf of a batch on the day on which it was withdrawn is put aside, and none of it comes back
put_aside as (
    select
        batch.undersize_um,
        withdrawn.withdrawn_on,
        greatest(batch.quantity - coalesce(gone.gone, 0), 0) as aside
    from known_batches($as_of::date) as batch
    join withdrawn on withdrawn.batch = batch.batch
    left join (
        select batch, sum(sent - back) as gone from hub_moves where moved_on <= withdrawn_on group by batch
    ) as gone on gone.batch = batch.batch
    where batch.pattern = $pattern::varchar
),
moves as (
    select undersize_um, made_on as moved_on, quantity as made, 0 as sent, 0 as back, 0 as aside
    from known_batches($as_of::date)
    where pattern = $pattern::varchar
    union all
    select undersize_um, moved_on, 0, sent, back, 0
    from hub_moves
    where withdrawn_on is null or moved_on <= withdrawn_on
    union all
    select undersize_um, withdrawn_on, 0, 0, 0, aside from put_aside
),
since as (
    select
        moves.undersize_um,
        sum(moves.made) as made,
        sum(moves.sent) as sent,
        sum(moves.back) as back,
        sum(moves.aside) as aside
    from moves
    left join counted on counted.undersize_um = moves.undersize_um
    where counted.counted_on is null or moves.moved_on > counted.counted_on
    group by moves.undersize_um
),
sizes as (
    select undersize_um from counted
    union
    select undersize_um from moves
),
summed as (
    select
        sizes.undersize_um,
        counted.counted_on,
        counted.counted,
        coalesce(since.made, 0) as made,
        coalesce(since.sent, 0) as sent,
        coalesce(since.back, 0) as back,
        coalesce(since.aside, 0) as aside,
        coalesce(counted.counted, 0) + coalesce(since.made, 0) - coalesce(since.sent, 0) + coalesce(since.back, 0)
            as before
    from sizes
    left join counted on counted.undersize_um = sizes.undersize_um
    left join since on since.undersize_um = sizes.undersize_um
)
select
    undersize_um,
    counted_on,
    counted,
    made::integer as made_since,
    sent::integer as sent_since,
    back::integer as back_since,
    -- a count may have found fewer than were made; then no more are put aside than lie there
    (before - least(aside, greatest(before, 0)))::integer as on_hand
from summed
order by undersize_um;
