-- purpose: hubs gauged before they were made, while they were out, by a gauge in inches, or at few of their places
-- params: as_of
-- Spaces that were not gauged are counted with in the doubt of a hub's size (known_hub_gaugings).
with gaugings as (
    select gauging.*, hub.batch, pattern.splines
    from known_hub_gaugings($as_of::date) as gauging
    join known_hubs($as_of::date) as hub on hub.hub = gauging.hub
    left join known_patterns($as_of::date) as pattern on pattern.pattern = hub.pattern
),

-- where the hub was on that day, by what was sent and came back
moves as (
    select hub, sent_on as moved_on, 'sent' as what, shaft, intake
    from known_dispatches($as_of::date)
    union all
    select hub, fitted_from, 'fitted', shaft, intake
    from known_fittings($as_of::date)
    where went_on is distinct from 'would-not' and fitted_from is not null and method <> 'workshop-fitted'
    union all
    select hub, returned_on, 'back', null, intake
    from known_returns($as_of::date)
),

last_moves as (
    select
        gaugings.hub,
        gaugings.gauged_on,
        arg_max(moves, (moves.moved_on, moves.what)) as last_move
    from gaugings
    join moves on moves.hub = gaugings.hub and moves.moved_on < gaugings.gauged_on
    group by gaugings.hub, gaugings.gauged_on
),

odd as (
    select
        gaugings.hub,
        gaugings.gauged_on,
        format('but its batch {} was made on {}', batch.batch, batch.made_on) as found,
        'correct the day of the gauging, or that of the batch' as next_step,
        greatest(gaugings.intake, batch.intake) as intake
    from gaugings
    join known_batches($as_of::date) as batch on batch.batch = gaugings.batch and batch.made_on > gaugings.gauged_on
    union all
    select
        last_moves.hub,
        last_moves.gauged_on,
        format(
            'while it was out: {}{} on {}, and not known to have come back since',
            last_move.what,
            if(last_move.shaft is null, '', if(last_move.what = 'sent', ' for shaft ', ' to shaft ') || last_move.shaft),
            last_move.moved_on
        ),
        'correct which hub was gauged or the day, or add its return',
        greatest(gaugings.intake, last_move.intake)
    from last_moves
    join gaugings on gaugings.hub = last_moves.hub and gaugings.gauged_on = last_moves.gauged_on
    where last_move.what <> 'back'
    union all
    select
        place.hub,
        place.gauged_on,
        format('in mm, by gauge {}, which reads inches', place.gauge),
        'correct which gauge it was, or convert what it read',
        max(greatest(place.intake, gauge.intake))
    from known_hub_spaces($as_of::date) as place
    join known_gauges($as_of::date) as gauge on gauge.gauge = place.gauge and gauge.unit = 'in'
    group by place.hub, place.gauged_on, place.gauge
    union all
    select
        hub,
        gauged_on,
        format('at {} of its {} places', places, 2 * splines),
        format('gauge the others too; until then its size has a doubt of {:.0f} µm', space_u_um),
        intake
    from gaugings
    where places < splines
)
select
    format('hub {} gauged on {}', hub, gauged_on) as place,
    found,
    next_step,
    intake
from odd
order by place, found;
