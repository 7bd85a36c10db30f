-- purpose: notes of a fitting that cannot be so: pulled too far, play or filing beyond all, known early, bonded unsaid
-- params: as_of
-- Pulled on further than the hub is long, or over three times the stretch over which hubs of the pattern are pulled.
-- Play of under 1 um cannot be felt (millimetres); over 100 um a hub is not fitted but hung on. Filing takes from some
-- minutes to some hours: under a minute it is hours, over ten hours another day's. All common practice, no source.
with known as (
    select fittings.*, patterns.engaged_mm, patterns.pull_on_mm, greatest(fittings.intake, patterns.intake) as newest
    from known_fittings($as_of::date) as fittings
    left join known_shafts($as_of::date) as shafts on shafts.shaft = fittings.shaft
    left join known_patterns($as_of::date) as patterns on patterns.pattern = shafts.pattern
),

odd as (
    select
        fitting,
        newest,
        case
            when pulled_mm > engaged_mm
                then format('pulled on over {:g} mm, but the hub engages over {:g} mm', pulled_mm, engaged_mm)
            else format('pulled on over {:g} mm, where {:g} mm are usual', pulled_mm, pull_on_mm)
        end as found
    from known
    where pulled_mm > engaged_mm or pulled_mm > 3 * pull_on_mm
    union all
    select fitting, newest, format('play of {:g} µm: in mm?', play_um)
    from known
    where play_um > 0 and play_um < 1
    union all
    select fitting, newest, format('play of {:g} µm when it was fitted', play_um)
    from known
    where play_um > 100
    union all
    select fitting, newest, format('filed for {:g} minutes: in hours?', filing_min)
    from known
    where filing_min > 0 and filing_min < 1
    union all
    select fitting, newest, format('filed for {:g} minutes', filing_min)
    from known
    where filing_min > 600
    union all
    select fitting, newest, format('known from {}, but fitted on {}', known_from, fitted_on)
    from known
    where known_from < fitted_from
    union all
    -- a hub that is bonded or shimmed is not held by its flanks, and is in no law of them
    select fitting, newest, format('fitted as {}, but with {} between: then its method is compound or repair', method, compound)
    from known
    where method not in ('compound', 'repair')
        and regexp_matches(lower(compound), 'retain|bond|glue|adhesive|epoxy|anaerob|locker|locking|shim|sleeve|solder|weld')
)
select
    format('fitting {}', fitting) as place,
    found,
    'if it is a slip, correct it with --correct' as next_step,
    newest as intake
from odd
order by place, found;
