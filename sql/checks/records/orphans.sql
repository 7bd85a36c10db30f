-- purpose: rows that name something of which the store has no row
-- params: as_of
-- Whether the thing named has a row at all is asked, not since when it was known.
with named as (
    select 'inspection' as kind, inspection as name, 'shaft' as parent, shaft as parent_name, intake
    from known_inspections($as_of::date)
    union all
    select 'inspection', inspection, 'gauge', gauge, intake from known_inspections($as_of::date)
    union all
    select 'inspection', inspection, 'check piece', piece, intake from known_inspections($as_of::date)
    union all
    select format('loan of {}', sent_on), '', 'check piece', piece, intake from known_check_piece_loans($as_of::date)
    union all
    select 'loan of check piece', piece, 'shaft', shaft, intake from known_check_piece_loans($as_of::date)
    union all
    select 'photo', photo, 'shaft', shaft, intake from known_photos($as_of::date)
    union all
    select 'photo', photo, 'fitting', fitting, intake from known_photos($as_of::date)
    union all
    select 'photo', photo, 'inspection', inspection, intake from known_photos($as_of::date)
    union all
    select 'shaft', shaft, 'pattern', pattern, intake from known_shafts($as_of::date)
    union all
    select 'hub', hub, 'pattern', pattern, intake from known_hubs($as_of::date)
    union all
    select 'hub', hub, 'batch', batch, intake from known_hubs($as_of::date)
    union all
    select 'batch', batch, 'pattern', pattern, intake from known_batches($as_of::date)
    union all
    select 'fitting', fitting, 'shaft', shaft, intake from known_fittings($as_of::date)
    union all
    select 'fitting', fitting, 'hub', hub, intake from known_fittings($as_of::date)
    union all
    select 'fitting', fitting, 'inspection', unnest(inspections), intake from known_fittings($as_of::date)
    union all
    select 'fitting', fitting, 'fitting', refit_of, intake from known_fittings($as_of::date)
    union all
    select format('follow-up of {}', seen_on), '', 'fitting', fitting, intake from known_follow_ups($as_of::date)
    union all
    select format('return of {}', returned_on), '', 'hub', hub, intake from known_returns($as_of::date)
    union all
    select 'return of hub', hub, 'fitting', fitting, intake from known_returns($as_of::date)
    union all
    select format('gauging of {}', gauged_on), '', 'hub', hub, max(intake)
    from known_hub_spaces($as_of::date)
    group by hub, gauged_on
    union all
    select 'gauging of hub', hub, 'gauge', gauge, max(intake)
    from known_hub_spaces($as_of::date)
    group by hub, gauge
    union all
    select format('dispatch of {}', sent_on), '', 'hub', hub, intake from known_dispatches($as_of::date)
    union all
    select 'dispatch of hub', hub, 'shaft', shaft, intake from known_dispatches($as_of::date)
    union all
    select 'dispatch of hub', hub, 'inspection', inspection, intake from known_dispatches($as_of::date)
    union all
    select 'dispatch of hub', hub, 'order', "order", intake from known_dispatches($as_of::date)
    union all
    select format('shaft event of {}', happened_on), '', 'shaft', shaft, intake from known_shaft_events($as_of::date)
    union all
    select 'order', "order", 'pattern', pattern, intake from known_orders($as_of::date)
    -- one row for all readings of an inspection that has none of its own
    union all
    select format('{} readings', count(*)), '', 'inspection', readings.inspection, min(readings.intake)
    from readings
    join known_intakes($as_of::date) as known on known.intake = readings.intake
    where readings.inspection not in (select inspection from inspections)
    group by readings.inspection
),

there as (
    select 'pattern' as parent, pattern as parent_name from patterns
    union all
    select 'gauge', gauge from gauges
    union all
    select 'check piece', piece from check_pieces
    union all
    select 'shaft', shaft from shafts
    union all
    select 'inspection', inspection from inspections
    union all
    select 'batch', batch from batches
    union all
    select 'hub', hub from hubs
    union all
    select 'fitting', fitting from fittings
    union all
    select 'order', "order" from orders
)
select
    trim(format('{} {}', kind, name)) as place,
    format('names {} {}, which has no row of its own', parent, parent_name) as found,
    format('add the row of {} {}, or correct the name', parent, parent_name) as next_step,
    intake
from named
anti join there using (parent, parent_name)
where parent_name is not null
order by place, found;
