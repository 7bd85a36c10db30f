"""A small and awkward history: some of the demo's shafts with things left out, and others made by hand.

What is made by hand has a name that begins with X, and one a name that is hard to print.
"""

from __future__ import annotations

import copy

from tests.golden.tables import Row, Tables, cut_to, measured_most, values

COMMON, SINGLE = "D8", "D10"
"""The pattern of nearly all shafts, and that of a single one."""

ODD_NAME = 'Ü 7/2, "left"'
BY_HAND = ("X01", "X02", "X03", "X04", "X05", "X06", ODD_NAME)

_DEMO_SHAFTS = 18
_STATIONS = ("shoulder", "middle", "nut-end")


def odd_tables(demo: Tables) -> Tables:
    """Make the tables.

    Parameters
    ----------
    demo : dict of str to list of dict
        The demo's tables.

    Returns
    -------
    dict of str to list of dict
        About 25 shafts; one row is wrong and will be kept out.
    """
    tables = copy.deepcopy(cut_to(demo, chosen_shafts(demo)))
    _leave_out(tables)
    _add_by_hand(tables)
    return tables


def chosen_shafts(demo: Tables) -> list[str]:
    """Choose shafts of the demo by what happened to them, and one of the other pattern."""
    common = sorted(row["shaft"] for row in demo["shafts"] if row["pattern"] == COMMON)
    single = sorted(row["shaft"] for row in demo["shafts"] if row["pattern"] == SINGLE)
    gauges = {row["gauge"]: row for row in demo["gauges"]}
    inch = [row["shaft"] for row in demo["inspections"] if row["unit"] != "mm"]
    caliper = [row["shaft"] for row in demo["inspections"] if gauges[row["gauge"]]["kind"] == "caliper"]
    events = [row["shaft"] for row in demo["shaft_events"]]
    back = {row["hub"] for row in demo["returns"]}
    returned = [row["shaft"] for row in demo["dispatches"] if row["hub"] in back]
    wanted: list[str] = []
    for group, number in ((measured_most(demo, common), 3), (inch, 2), (caliper, 2), (events, 3), (returned, 4)):
        wanted += [shaft for shaft in dict.fromkeys(group) if shaft in common and shaft not in wanted][:number]
    wanted += [shaft for shaft in common if shaft not in wanted][: _DEMO_SHAFTS - len(wanted)]
    return [*sorted(wanted), measured_most(demo, sorted(values(demo["fittings"], "shaft") & set(single)))[0]]


def _leave_out(tables: Tables) -> None:
    """Take away what an owner may not have said."""
    for number, row in enumerate(tables["shafts"]):
        row["duty"] = "" if number % 4 == 0 else row["duty"]
        row["region"] = "" if number % 5 == 1 else row["region"]
        row["first_seen_on"] = "" if number % 3 == 2 else row["first_seen_on"]
    for number, row in enumerate(tables["fittings"]):
        row["fitted_on"] = "" if number % 5 == 3 else row["fitted_on"]
    for number, row in enumerate(tables["hubs"]):
        row["batch"] = "" if number % 6 == 4 else row["batch"]
        row["space_width_mm"] = "" if number % 7 == 5 else row["space_width_mm"]
    for number, row in enumerate(tables["inspections"]):
        row["spline_1_marked"] = "" if number % 6 == 2 else row["spline_1_marked"]
        row["condition"] = "bruised;twisted" if number % 9 == 1 else ""


def _add_by_hand(tables: Tables) -> None:
    """Add shafts, each for something that seldom happens, and hubs for some of them."""
    duties = ("daily", "", "standby", "daily", "", "continuous", "")
    regions = ("carr", "", "", "marsh", "", "", "carr")
    tables["shafts"] += [
        {"shaft": name, "pattern": COMMON, "duty": duty, "region": region}
        for name, duty, region in zip(BY_HAND, duties, regions, strict=True)
    ]
    tables["gauges"] += [
        {"gauge": "X-caliper", "kind": "caliper", "unit": "mm", "resolution": "0.02"},
        {"gauge": "X-inch", "kind": "micrometer-flat", "unit": "in", "resolution": "0.001"},
        {"gauge": "X-fine", "kind": "micrometer-blade", "unit": "mm", "resolution": "0.001"},
    ]
    # X01 has no readings at all; X02 was inspected, and nothing was written down
    _inspect(tables, "XI02", "X02", "2025-03-03", "X-fine", ())
    # X03 was never measured with anything but a caliper, nor X04 but in thousandths of an inch
    _inspect(tables, "XI03a", "X03", "2024-05-05", "X-caliper", _around(5.94, 0.02, 2))
    _inspect(tables, "XI03b", "X03", "2025-01-15", "X-caliper", _around(5.92, 0.02, 2))
    _inspect(tables, "XI04", "X04", "2024-08-01", "X-inch", _around(0.234, 0.001, 3))
    # X05 was measured three times within days, and no two of these can be true
    for letter, day, width in (("a", "01", 5.95), ("b", "03", 5.86), ("c", "09", 5.99)):
        _inspect(tables, f"XI05{letter}", "X05", f"2025-06-{day}", "X-fine", _around(width, 0.002, 3))
    # a decimal point that slipped: intake keeps the row out
    slipped = {"inspection": "XI05a", "spline": "1", "station": "middle", "trial": "2", "width": "59.5"}
    tables["readings"].append(slipped)
    # hours that fall
    _inspect(tables, "XI06a", "X06", "2024-02-02", "X-fine", _around(5.93, 0.001, 3), hours="9000")
    _inspect(tables, "XI06b", "X06", "2025-02-02", "X-fine", _around(5.92, 0.001, 3), hours="41")
    _inspect(tables, "XI07", ODD_NAME, "2026-07-07", "X-fine", ("5.901",), by='D\'Arcy & "Son"')
    _add_hubs(tables)


def _add_hubs(tables: Tables) -> None:
    """Fit hubs as they should not be: on two shafts, on no known day, looked at before they were fitted."""
    twice = tables["fittings"][0]["hub"]
    tables["hubs"] += [{"hub": f"XH{number}", "pattern": COMMON, "undersize_um": "75"} for number in (1, 2, 3)]
    fitted = {"method": "owner-fitted", "went_on": "tapped"}
    tables["fittings"] += [
        {"fitting": "XF1", "shaft": "X01", "hub": "XH1", "fitted_on": "2024-10-10", "method": "as-supplied"},
        {"fitting": "XF2", "shaft": "X06", "hub": twice, "fitted_on": "2024-03-01", "inspections": "XI06a"} | fitted,
        {"fitting": "XF3", "shaft": "X04", "hub": "XH2", "fitted_on": "", "known_from": "2025-05-05"} | fitted,
        {"fitting": "XF4", "shaft": "X03", "hub": "XH3", "fitted_on": "2025-02", "inspections": "XI03a;XI03b"} | fitted,
    ]
    tables["follow_ups"] += [
        {"fitting": "XF1", "seen_on": "2024-09-01", "state": "tight", "prompted": "asked"},
        {"fitting": "XF1", "seen_on": "2025-09-01", "state": "loose", "cause": "flanks"},
        {"fitting": "XF3", "seen_on": "2026-01-31", "state": "no-answer", "prompted": "asked"},
        {"fitting": "XF4", "seen_on": "2026-02-01", "state": "loose", "cause": "unknown", "how": "rocked-by-hand"},
        {"fitting": "XF9", "seen_on": "2026-02-01", "state": "tight"},
    ]
    tables["returns"].append({"hub": "XH3", "returned_on": "2026-02-20", "reason": "worked-loose", "fitting": "XF4"})
    tables["dispatches"].append({"hub": "XH1", "sent_on": "2024-10-01", "shaft": "X01", "sent_as": "as-supplied"})


def _around(width: float, step: float, stations: int) -> tuple[str, ...]:
    """Give widths in steps about one, a value a spline and station."""
    decimals = 3 if step < 0.01 else 2
    return tuple(f"{width + step * ((7 * n) % 5 - 2):.{decimals}f}" for n in range(8 * stations))


def _inspect(
    tables: Tables, name: str, shaft: str, day: str, gauge: str, widths: tuple[str, ...],
    *, by: str = "X-owner", hours: str = "",
) -> None:  # fmt: skip
    """Add an inspection at home, its readings spline by spline."""
    row: Row = {"inspection": name, "shaft": shaft, "measured_on": day, "measured_by": by, "measured_at": "home"}
    unit = "in" if gauge == "X-inch" else "mm"
    tables["inspections"].append(row | {"gauge": gauge, "unit": unit, "hours": hours, "spline_1_marked": "yes"})
    stations = _STATIONS[: max(1, len(widths) // 8)]
    for number, width in enumerate(widths):
        spline, station = divmod(number, len(stations))
        place = {"inspection": name, "spline": str(spline + 1), "station": stations[station]}
        tables["readings"].append(place | {"width": width})
