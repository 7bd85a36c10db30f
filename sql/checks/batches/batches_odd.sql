-- purpose: batches with fewer hubs than are on record, far more than are made, or plug gauges off their size
-- params: as_of
-- Far more: ten times the pattern's batch size, or ten times the largest of five others (judgement). Plug gauges of an
-- undersize lie around it within some tolerance of spaces, H9 for widths of 3 to 6 mm being 30 um (ISO 286), and leave
-- no more than 100 um between them.
with known as (
    select
        batches.*,
        round(1000 * patterns.space_width_mm - batches.undersize_um, 3) as space_um,
        patterns.batch_size
    from known_batches($as_of::date) as batches
    left join known_patterns($as_of::date) as patterns on patterns.pattern = batches.pattern
),

on_record as (
    select batch, count(*) as hubs, max(intake) as intake
    from known_hubs($as_of::date)
    where batch is not null
    group by batch
),

ranked as (
    select pattern, quantity, row_number() over (partition by pattern order by quantity desc) as place
    from known
),

-- of the largest the next, of all others the largest
largest as (
    select
        pattern,
        count(*) as batches,
        max(quantity) filter (where place = 1) as first_largest,
        max(quantity) filter (where place = 2) as next_largest
    from ranked
    group by pattern
),

odd as (
    select
        known.batch,
        format('of {} hubs, but {} of them are on record', known.quantity, on_record.hubs) as found,
        greatest(known.intake, on_record.intake) as intake
    from known
    join on_record on on_record.batch = known.batch
    where on_record.hubs > known.quantity
    union all
    select
        known.batch,
        case
            when known.quantity >= 10 * known.batch_size
                then format('of {} hubs, where {} are made at a time', known.quantity, known.batch_size)
            else format('of {} hubs, where no other has over {}', known.quantity, largest.next_largest)
        end,
        known.intake
    from known
    join largest on largest.pattern = known.pattern
    where known.quantity >= 10 * known.batch_size
        or (
            largest.batches > 5
            and known.quantity = largest.first_largest
            and known.quantity >= 10 * largest.next_largest
        )
    union all
    select batch, format('go {:.3f} mm is over no-go {:.3f} mm', go_mm, no_go_mm), intake
    from known
    where go_mm > no_go_mm
    union all
    select batch, format('go {:.3f} mm and no-go {:.3f} mm are far apart', go_mm, no_go_mm), intake
    from known
    where 1000 * (no_go_mm - go_mm) > 100.001
    union all
    select
        batch,
        format(
            'plug gauges of {} mm, where undersize {:g} leaves {:.3f} mm',
            concat_ws(' and ', format('{:.3f}', go_mm), format('{:.3f}', no_go_mm)), undersize_um, space_um / 1000
        ),
        intake
    from known
    where go_mm <= no_go_mm is distinct from false
        and (space_um - 1000 * go_mm < -30.001 or 1000 * no_go_mm - space_um < -30.001)
)
select
    format('batch {}', batch) as place,
    found,
    'if it is a slip, correct it with --correct' as next_step,
    intake
from odd
order by place, found;
