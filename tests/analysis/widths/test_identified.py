"""Which components a layout can tell: counted on layouts drawn up by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.width_layout import layout
from tests.analysis.widths.test_fit_recovery import invent
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.fit import fit_widths, identified, linked_classes
from wearstats.analysis.widths.fitted import ASSUMED_UM


def readings(
    visits: list[tuple[str, str, str]], *, splines: int = 2, stations: int = 2, times: int = 1
) -> pd.DataFrame:
    """Inspections (unit, measurer, class), each of all places so many times; the widths are of no account."""
    return pd.DataFrame(
        [
            {"unit": unit, "measurer": who, "inspection": number, "class": kind, "spline": spline + 1,
             "station": station, "width": 3.0 * number + spline * 5 + 7 * station + time}
            for number, (unit, who, kind) in enumerate(visits)
            for spline in range(splines) for station in range(stations) for time in range(times)
        ]
    )  # fmt: skip


def told(visits: list[tuple[str, str, str]], *, splines: int = 2, stations: int = 2, times: int = 1) -> set[str]:
    shape = {"splines": splines, "stations": stations}
    found = identified(layout(readings(visits, times=times, **shape), **shape))
    assert set(found) == set(COMPONENTS)
    return {name for name, yes in found.items() if yes}


def once(shafts: int) -> list[tuple[str, str, str]]:
    return [(f"S{k}", f"owner {k}", "home") for k in range(shafts)]


@pytest.mark.parametrize(
    ("shafts", "splines", "stations", "components"),
    [
        (3, 2, 2, {"shaft", "spline", "shaft_station", "cell"}),
        (2, 2, 2, set()),
        (3, 1, 2, {"shaft"}),
        (3, 2, 1, {"shaft", "spline"}),
        (3, 1, 1, {"shaft"}),
    ],
)
def test_a_map_is_told_by_three_shafts_with_several_places(
    shafts: int, splines: int, stations: int, components: set[str]
) -> None:
    assert told(once(shafts), splines=splines, stations=stations) == components


def test_scatter_is_told_by_two_shafts_measured_again_or_eight_readings_to_spare() -> None:
    again = [*once(3), ("S0", "owner 0", "home"), ("S1", "owner 1", "home")]
    assert "repeatability_home" in told(again)
    assert "repeatability_home" not in told(again[:4])
    # each place twice on two shafts of four places: eight to spare
    assert "repeatability_home" in told(once(2), times=2)
    assert "repeatability_home" not in told(once(2), splines=1, times=2)
    assert "repeatability_workshop" not in told(again)


def test_a_bias_is_told_by_four_shafts_that_two_hands_measured_and_three_hands() -> None:
    both = [(f"S{k}", who, kind) for k in range(4) for who, kind in ((f"owner {k}", "home"), ("hand", "workshop"))]
    scatter = {"repeatability_home", "repeatability_workshop", "inspection_workshop"}
    assert told(both) - {"shaft", "spline", "shaft_station", "cell"} == scatter | {"measurer_home"}
    assert "measurer_home" not in told(both[:6])
    # the workshop's one hand is compared with nobody of his own, and two hands are too few
    assert "measurer_workshop" not in told(both)
    two = [(unit, who if kind == "workshop" else f"owner {int(unit[1]) % 2}", kind) for unit, who, kind in both]
    assert "measurer_home" not in told(two)


def test_what_an_inspection_adds_is_told_where_the_same_hand_came_again() -> None:
    again = [(f"S{k}", f"owner {k}", "home") for k in range(4) for _ in range(2)]
    assert "inspection_home" in told(again)
    assert "inspection_home" not in told(again[:6])
    # four shafts measured again, but always by another
    others = [(unit, f"owner {number}", kind) for number, (unit, _, kind) in enumerate(again)]
    assert "inspection_home" not in told(others)
    # three times the same hand is enough
    some = [(unit, who if number > 1 else f"other {number}", kind) for number, (unit, who, kind) in enumerate(again)]
    assert "inspection_home" in told(some)


def test_classes_are_linked_by_two_shafts_that_the_workshop_measured_too() -> None:
    visits = [("S0", "a", "home"), ("S0", "h", "workshop"), ("S1", "b", "home"), ("S1", "h", "workshop"),
              ("S2", "c", "caliper"), ("S2", "h", "workshop"), ("S3", "c", "caliper")]  # fmt: skip
    shape = {"splines": 2, "stations": 2}
    assert linked_classes(layout(readings(visits), **shape)) == ("home",)


def test_what_is_not_told_is_held_at_what_is_assumed() -> None:
    data, _ = invent(20, rng=np.random.default_rng(3), workshop=0.0, again=0.0)
    found = fit_widths(data, intervals=False)
    for k, name in enumerate(COMPONENTS):
        if not found.free[k]:
            assert found.variances[k] == pytest.approx(ASSUMED_UM[name] ** 2), name
    assert not found.free[COMPONENTS.index("repeatability_caliper")]
