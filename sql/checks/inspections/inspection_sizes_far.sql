-- purpose: inspections whose check piece was read far off, or whose register or major diameter is not the pattern's
-- params: as_of
-- A home user's micrometer is off by 5 to 10 um and scatters as much (TRADE facts: judgement), so by 40 um and a step of
-- the gauge never; a caliper's 20 to 30 um (from memory), so by 100 um and a step. A check piece is about as wide as a
-- spline: half to twice. A register is worn by tenths, a major diameter turned or worn by less than a millimetre, and
-- neither grows (common practice, no source). A piece with a name counts by its own size, and over 100 um off it nothing
-- was read right, whatever the gauge.
with looked as (
    select
        inspections.*,
        patterns.pattern,
        patterns.width_mm as new_mm,
        patterns.register_mm as new_register_mm,
        patterns.major_mm as new_major_mm,
        least(
            if(gauges.kind = 'caliper', 100, 40) + coalesce(gauges.resolution_um, 0),
            if(pieces.piece is null, null, 100)
        ) as most_um,
        coalesce(pieces.size_mm, inspections.check_piece_mm) as own_mm,
        pieces.piece as known_piece,
        greatest(inspections.intake, gauges.intake, patterns.intake, pieces.intake) as newest
    from checked_inspections as inspections
    left join known_gauges($as_of::date) as gauges on gauges.gauge = inspections.gauge
    left join known_check_pieces($as_of::date) as pieces on pieces.piece = inspections.piece
    left join known_shafts($as_of::date) as shafts on shafts.shaft = inspections.shaft
    left join known_patterns($as_of::date) as patterns on patterns.pattern = shafts.pattern
    where inspections.check_piece_mm is not null
        or pieces.piece is not null
        or inspections.register_mm is not null
        or inspections.major_mm is not null
),

odd as (
    select
        *,
        format(
            'check piece {}of {:.3f} mm read {:.3f} mm, {:+.0f} µm{}',
            coalesce(known_piece || ' ', ''), own_mm, check_reading_mm, 1000 * (check_reading_mm - own_mm),
            coalesce(
                ', as check piece '
                || (
                    select min(other.piece)
                    from known_check_pieces($as_of::date) as other
                    where round(abs(1000 * (looked.check_reading_mm - other.size_mm)), 3) <= looked.most_um
                )
                || ' would be',
                ''
            )
        ) as found
    from looked
    where round(abs(1000 * (check_reading_mm - own_mm)), 3) > most_um
    union all
    select *, format('check piece of {:.3f} mm, where {} is {:.4f} mm', check_piece_mm, known_piece, own_mm)
    from looked
    where known_piece is not null and round(abs(1000 * (check_piece_mm - own_mm)), 3) > 100
    union all
    select *, format('check piece of {:.3f} mm, where a new spline has {:.3f} mm', own_mm, new_mm)
    from looked
    where own_mm not between new_mm / 2 and 2 * new_mm
    union all
    select *, format('register {:.3f} mm, where {} has {:.3f} mm', register_mm, pattern, new_register_mm)
    from looked
    where abs(register_mm - new_register_mm) > 0.5
    union all
    select *, format('major diameter {:.3f} mm, where {} has {:.3f} mm', major_mm, pattern, new_major_mm)
    from looked
    where major_mm - new_major_mm not between -1 and 0.5
)
select
    format('inspection {}, shaft {}', inspection, shaft) as place,
    found,
    'ask for it again, or correct it with --correct' as next_step,
    newest as intake
from odd
order by place, found;
