-- purpose: patterns with sizes that can be, but that straight-sided splines hardly ever have, a row a size
-- params: as_of
-- Limits. Clearance of a new hub on a new shaft: the loosest fit of ISO 14 (H11 on d10, by the tables of ISO 286) is
-- 153 um on 6 mm and 250 um on 18 mm, so 100 um and 10 um more a millimetre; the tightest leaves nothing (H9 on h10).
-- Splines fill 0.36 to 0.56 of the mean circle in ISO 14 and in the older
-- American standard (from memory), so 0.30 to 0.65. Major over minor diameter is 1.08 to 1.27 there, so 1.04 to 1.4. A
-- hub is half to one and a half major diameters long (common practice, no source), so a quarter to twice. The last
-- stretch of pulling on is a few millimetres (common practice, no source), so less than half of the length. A register
-- is about as wide as the shaft: 0.4 to 2 times (judgement).
with known as (
    select
        *,
        round((space_width_mm - width_mm) * 1000, 3) as clearance_um,
        splines * width_mm / (pi() * (minor_mm + major_mm) / 2) as filled,
        regexp_extract(pattern, '^(?:ISO\s*14)?\s*(\d+)\s*[xX×]\s*(\d+)\s*[xX×]\s*(\d+)$', ['splines', 'minor', 'major']) as named
    from known_patterns($as_of::date)
    where major_mm > minor_mm
),

odd as (
    select
        pattern,
        intake,
        format(
            'space {:.3f} mm leaves {:.0f} µm on the new width {:.3f} mm, where 0 to {:.0f} µm can be expected',
            space_width_mm, clearance_um, width_mm, 100 + 10 * width_mm
        ) as found
    from known
    where clearance_um not between 0 and 100 + 10 * width_mm
    union all
    select
        pattern,
        intake,
        format(
            '{} splines of {:.3f} mm fill {:.0f} % of the mean circle, where 30 to 65 % are usual',
            splines, width_mm, 100 * filled
        )
    from known
    where filled not between 0.3 and 0.65
    union all
    select
        pattern,
        intake,
        format(
            'major diameter {:.3f} mm is {:.2f} times the minor {:.3f} mm, where 1.04 to 1.4 is usual',
            major_mm, major_mm / minor_mm, minor_mm
        )
    from known
    where major_mm / minor_mm not between 1.04 and 1.4
    union all
    select
        pattern,
        intake,
        format('engaged over {:.1f} mm, where {:.0f} to {:.0f} mm are usual', engaged_mm, major_mm / 4, major_mm * 2)
    from known
    where engaged_mm not between major_mm / 4 and major_mm * 2
    union all
    select pattern, intake, format('pulled on over {:.1f} mm of {:.1f} mm engaged', pull_on_mm, engaged_mm)
    from known
    where pull_on_mm >= engaged_mm / 2
    union all
    select
        pattern, intake, format('register {:.3f} mm on a shaft of {:.3f} mm', register_mm, major_mm)
    from known
    where register_mm not between 0.4 * major_mm and 2 * major_mm
    union all
    select
        pattern,
        intake,
        format('stations {}: they run from the shoulder to the nut end', array_to_string(stations, ';'))
    from known
    -- of the places that there are, in the order in which they stand
    where list_filter(stations, lambda place: place in ('shoulder', 'middle', 'nut-end'))
        <> list_filter(['shoulder', 'middle', 'nut-end'], lambda place: list_contains(stations, place))
    union all
    select
        pattern,
        intake,
        format('named {}, but has {} splines on {:g} x {:g} mm', pattern, splines, minor_mm, major_mm)
    from known
    where named['splines'] <> ''
        and (try_cast(named['splines'] as integer) <> splines or try_cast(named['minor'] as double) <> minor_mm or try_cast(named['major'] as double) <> major_mm)
)
select
    format('pattern {}', pattern) as place,
    found,
    'if it is a slip, correct the pattern with --correct: everything counts from these sizes' as next_step,
    intake
from odd
order by pattern, found;
