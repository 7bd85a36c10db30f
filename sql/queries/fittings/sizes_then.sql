-- purpose: the sizes on offer on the day of each choice, a row a fitting and size, but for those that were out of stock
-- params: as_of, shafts
with choice as (
    select
        fitting.fitting,
        shaft.pattern,
        coalesce(max(dispatch.sent_on), any_value(fitting.fitted_to), any_value(fitting.known_from)) as chosen_on
    from known_fittings($as_of::date) as fitting
    join known_shafts($as_of::date) as shaft on shaft.shaft = fitting.shaft
    left join known_dispatches($as_of::date) as dispatch on dispatch.hub = fitting.hub
    where $shafts::varchar[] is null or fitting.shaft in (select unnest($shafts::varchar[]))
    group by fitting.fitting, shaft.pattern
),
offered as (
    select distinct choice.fitting, choice.pattern, choice.chosen_on, size.undersize_um
    from choice
    join known_undersizes_offered($as_of::date) as size
        on size.pattern = choice.pattern
        and size.from_on <= choice.chosen_on
        and coalesce(size.to_on, choice.chosen_on) >= choice.chosen_on
),
moves as (
    select pattern, undersize_um, made_on as moved_on, quantity as moved
    from known_batches($as_of::date)
    union all
    select hub.pattern, hub.undersize_um, dispatch.sent_on, -1
    from known_dispatches($as_of::date) as dispatch
    join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
    union all
    select hub.pattern, hub.undersize_um, returned.returned_on, 1
    from known_returns($as_of::date) as returned
    join known_hubs($as_of::date) as hub on hub.hub = returned.hub
    where returned.back_on_shelf
),
shelf as (
    select
        pattern,
        undersize_um,
        moved_on,
        sum(sum(moved)) over (partition by pattern, undersize_um order by moved_on) as moved
    from moves
    group by pattern, undersize_um, moved_on
),
counted as (
    -- a count holds at the end of its day: what moved by then is in it
    select
        stock.pattern,
        stock.undersize_um,
        stock.counted_on,
        stock.on_hand - coalesce(shelf.moved, 0) as beyond_moves
    from known_stock_counts($as_of::date) as stock
    asof left join shelf
        on shelf.pattern = stock.pattern
        and shelf.undersize_um = stock.undersize_um
        and shelf.moved_on <= stock.counted_on
)
select offered.fitting as fitting, offered.undersize_um as undersize_um
from offered
-- only where the shelf was counted before is it known to be empty
asof left join counted
    on counted.pattern = offered.pattern
    and counted.undersize_um = offered.undersize_um
    and counted.counted_on < offered.chosen_on
asof left join shelf
    on shelf.pattern = offered.pattern
    and shelf.undersize_um = offered.undersize_um
    and shelf.moved_on < offered.chosen_on
where counted.beyond_moves is null or counted.beyond_moves + coalesce(shelf.moved, 0) > 0
order by offered.fitting, offered.undersize_um;
