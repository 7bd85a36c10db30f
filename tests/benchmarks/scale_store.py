"""A store of a million shafts, written straight into its tables as intake would leave them.

Two patterns; owners at home with five sorts of gauge, some with several shafts; a workshop whose hands cross; places
left out, read twice, with and without a check piece; a part of the shafts measured twice or three times. All sizes and
errors come from hashes of the row's numbers, so the same arguments give the same store. The truth is `TRUTH`.
"""

from __future__ import annotations

from pathlib import Path

import duckdb

from tests.benchmarks.scale_fittings import FITTINGS, LAW
from wearstats.store.database.connection import create_store

AS_OF = "2026-06-30"
ADDED_ON = "2026-01-01"
HANDS, OWNED_TOGETHER = 40, 5

TRUTH = {
    "unworn": 0.2,
    "new": 3.0,
    "wear_scale": 40.0,
    "wear_shape": 1.4,
    "spline": 6.0,
    "shaft_station": 4.0,
    "cell": 3.0,
    "measurer_home": 6.0,
    "inspection_home": 3.0,
    "repeatability_home": 5.0,
    "measurer_workshop": 1.5,
    "inspection_workshop": 1.0,
    "repeatability_workshop": 2.0,
    "bias_home": 2.0,
    "hollow": 4.0,
}
"""Standard deviations, scale and bias in um; shares and shapes as numbers."""

_MACROS = (
    # an even number between 0 and 1 for a row, another for every question asked of it
    "create temp macro even(a, b, c) as (hash(a * 1000003 + b * 7919 + c * 104729 + a * b) >> 11) / 9007199254740992.0",
    "create temp macro bell(a, b, c) as "
    "sqrt(-2 * ln(1 - even(a, b, c))) * cos(2 * pi() * even(a + 500000000, b, c + 50))",
)

_TABLES = (
    "insert into intakes (intake, added_on, added_at, files, bulk) "
    f"values (1, date '{ADDED_ON}', timestamp '{ADDED_ON} 08:00:00', 0, true)",
    "insert into patterns by name select * from (values "
    "('D8', 8, 6.0, 6.01, 32.0, 36.0, 28.0, ['shoulder', 'middle', 'nut-end'], 30, 20, 1), "
    "('D10', 10, 5.448, 5.458, 29.0, 34.925, 30.0, ['shoulder', 'middle', 'nut-end'], 30, 20, 1)) as made(pattern, "
    "splines, width_mm, space_width_mm, minor_mm, major_mm, engaged_mm, stations, lead_days, batch_size, intake)",
    "insert into undersizes_offered select pattern, undersize, date '2020-01-01', null, 1 "
    "from patterns, (values (0.0), (25.0), (50.0), (75.0), (100.0)) as sizes(undersize)",
    "insert into gauges by name select * from (values ('M1', 'micrometer-flat', 'mm', 0.001, 1.0, 1), "
    "('M2', 'micrometer-blade', 'mm', 0.002, 2.0, 1), ('M10', 'micrometer-flat', 'mm', 0.01, 10.0, 1), "
    "('T1', 'micrometer-flat', 'in', 0.0001, 2.54, 1), ('T10', 'micrometer-flat', 'in', 0.001, 25.4, 1), "
    "('W1', 'micrometer-blade', 'mm', 0.001, 1.0, 1)) as made(gauge, kind, unit, resolution, resolution_um, intake)",
    # true mean wear: unworn ones and Weibull wear
    """create temp table born as
    select
        i,
        format('S{:07d}', i) as shaft,
        case when even(i, 1, 1) < 0.45 then 'D8' else 'D10' end as pattern,
        -- every fourth shaft has an owner with several
        case when i % 4 = 0 then i // (4 * $together) else 100000000 + i end as owner,
        $new * bell(i, 2, 1) + case
            when even(i, 3, 1) < $unworn then 0.0
            else $wear_scale * pow(-ln(1 - even(i, 4, 1)), 1 / $wear_shape)
        end as wear_um,
        case when even(i, 5, 1) < 0.7 then 1 when even(i, 6, 1) < 0.8 then 2 else 3 end as looks
    from range(1, $shafts + 1) as numbers(i)""",
    """insert into shafts by name
    select
        shaft,
        pattern,
        ['saltings', 'carr', 'upland'][1 + (hash(i) % 3)::integer] as region,
        ['standby', 'daily', 'continuous'][1 + (hash(i + 7) % 3)::integer] as duty,
        1 as intake
    from born order by i""",
    """create temp table looked as
    select
        born.i * 3 + look as k,
        format('I{:08d}', born.i * 3 + look) as inspection,
        born.i as i,
        born.shaft as shaft,
        born.pattern as pattern,
        born.wear_um as wear_um,
        look > 0 and even(born.i * 3 + look, 11, 1) < 0.6 as by_shop,
        -- a second look at home is as often by another hand
        case
            when look > 0 and even(born.i * 3 + look, 11, 1) < 0.6 then hash(born.i * 3 + look) % $hands
            when look > 0 and even(born.i * 3 + look, 12, 1) < 0.5 then 200000000 + born.i * 3 + look
            else 1000000 + born.owner
        end::bigint as who
    from born, range(3) as looks(look)
    where look < born.looks""",
    """create temp table read_by as
    select
        looked.*,
        case
            when by_shop then 'W1'
            when even(who, 13, 1) < 0.25 then 'M1'
            when even(who, 13, 1) < 0.4 then 'M2'
            when even(who, 13, 1) < 0.7 then 'M10'
            when even(who, 13, 1) < 0.85 then 'T1'
            else 'T10'
        end as gauge,
        case
            when by_shop then $measurer_workshop * bell(who, 14, 1) + $inspection_workshop * bell(k, 15, 1)
            else $bias_home + $measurer_home * bell(who, 14, 1) + $inspection_home * bell(k, 15, 1)
        end as bias_um,
        case when by_shop then $repeatability_workshop else $repeatability_home end as scatter_um,
        even(k, 16, 1) < 0.05 as twice,
        even(k, 17, 1) < 0.1 as with_piece,
        -- who measures few splines, measures every other
        even(k, 18, 1) < 0.2 as few
    from looked""",
    """insert into inspections by name
    select
        inspection,
        shaft,
        -- looked at again within days, before a hub is sent
        date '2021-07-01' + (hash(i) % 1600)::integer + (k % 3)::integer as measured_on,
        case when by_shop then format('hand-{}', who) else format('owner-{}', who) end as measured_by,
        case when by_shop then 'workshop' else 'home' end as measured_at,
        read_by.gauge as gauge,
        gauges.unit as unit,
        case when even(i, 19, 1) < 0.3 then round(40 * greatest(wear_um, 0) + 500 * even(i, 20, 1)) end as hours,
        even(k, 21, 1) < 0.95 as spline_1_marked,
        case when with_piece then 5.0 end as check_piece_mm,
        case when with_piece then format('{:.4f}', shown_um / 1000 / case gauges.unit when 'in' then 25.4 else 1 end)
        end as check_reading,
        case when with_piece then round(shown_um * 10) / 10000 end as check_reading_mm,
        1 as intake
    from read_by
    join gauges on gauges.gauge = read_by.gauge,
    lateral (
        select round((5000 + bias_um + scatter_um * bell(k, 22, 1)) / resolution_um) * resolution_um as shown_um
    )
    order by k""",
    """insert into readings by name
    with places as (
        select
            read_by.k,
            inspection,
            spline,
            place,
            trial,
            round((
                width_mm * 1000 - wear_um + case when place = 2 then -$hollow else 0 end
                + $spline * bell(i, 30 + spline, 2) + $shaft_station * bell(i, 60 + place, 2)
                + $cell * bell(i, 100 + spline * 3 + place, 2)
                + bias_um + scatter_um * bell(k, 200 + spline * 3 + place, 3 + trial)
            ) / resolution_um) * resolution_um as shown_um,
            gauges.unit as unit
        from read_by
        join patterns on patterns.pattern = read_by.pattern
        join gauges on gauges.gauge = read_by.gauge,
        range(1, 11) as splines(spline),
        range(1, 4) as stations(place),
        range(1, 3) as trials(trial)
        where spline <= patterns.splines
          and (not few or spline % 2 = 1)
          and (trial = 1 or twice)
          and even(k, 300 + spline * 3 + place, 7) > 0.1
    )
    select
        inspection,
        spline,
        ['shoulder', 'middle', 'nut-end'][place] as station,
        trial,
        round(shown_um * 10)::integer as width_tenth_um,
        format('{:.4f}', shown_um / 1000 / case unit when 'in' then 25.4 else 1 end) as typed,
        1 as intake
    from places""",
    """insert into inspection_moments
    select inspection, spline, station, count(*), sum(width_tenth_um), sum(width_tenth_um::bigint * width_tenth_um)
    from readings
    group by inspection, spline, station""",
    """insert into reading_counts
    select readings.inspection, width_tenth_um, count(*)
    from readings
    join inspections on inspections.inspection = readings.inspection
    join gauges on gauges.gauge = inspections.gauge
    where gauges.resolution_um >= 5
    group by readings.inspection, width_tenth_um""",
    "insert into reading_intakes select inspection, 1 from inspections where inspection in "
    "(select inspection from readings) order by inspection",
)


def write_store(path: Path, shafts: int, *, memory: str = "8GB", threads: int = 2) -> tuple[int, int]:
    """Write a store.

    Parameters
    ----------
    path : pathlib.Path
        Where; overwritten.
    shafts : int
        How many.
    memory : str
        What the writing may take.
    threads : int
        On how many.

    Returns
    -------
    tuple of int
        Inspections and readings written.
    """
    create_store(path, force=True)
    numbers = {**TRUTH, **LAW, "shafts": shafts, "hands": HANDS, "together": OWNED_TOGETHER}
    with duckdb.connect(str(path)) as connection:
        connection.execute(f"set memory_limit = '{memory}'")
        connection.execute(f"set threads = {threads}")
        connection.execute("set enable_progress_bar = false")
        connection.execute("set preserve_insertion_order = false" if shafts > 100_000 else "select 1")
        for macro in _MACROS:
            connection.execute(macro)
        for statement in (*_TABLES, *FITTINGS):
            used = {name: value for name, value in numbers.items() if f"${name}" in statement}
            # a longer name that begins with a shorter one asks for the longer one only
            wanted = duckdb.extract_statements(statement)[0].named_parameters
            connection.execute(statement, {name: value for name, value in used.items() if name in wanted} or None)
        connection.execute("checkpoint")
        found = connection.execute(
            "select (select count(*) from inspections), (select count(*) from readings)"
        ).fetchone()
    assert found is not None
    return int(found[0]), int(found[1])
