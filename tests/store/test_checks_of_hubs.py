"""Hubs where they cannot be: sent though spoiled, on two shafts, gauged while out or not yet made."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, add, fitting, make_store
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import open_store

Row = dict[str, str | None]
SHAFT: Row = {"shaft": "S2", "pattern": "D8"}
FREE: Row = {"hub": "H3", "pattern": "D8", "undersize_um": "50", "batch": "B1"}
BACK: Row = {"hub": "H3", "returned_on": "2026-03-01", "reason": "not-needed", "back_on_shelf": "yes"}


def _found(path: Path, rows: dict[str, list[Row]], *checks: str) -> list[tuple[str, str, str]]:
    with open_store(make_store(path / "small.duckdb"), write=True) as store:
        report = add(store, {"shafts": [SHAFT], "hubs": [FREE]} | rows, added_on=LATE)
        found = run_checks(store, as_of=LATE, checks=checks)
        # whatever is found is told when it comes in
        assert all(any(each.found in note for note in report.notes) for each in found)
        return [(finding.check, finding.place, finding.found) for finding in found]


def test_a_hub_that_came_back_loose_is_not_sent_again(tmp_path: Path) -> None:
    rows: dict[str, list[Row]] = {"dispatches": [{"hub": "H1", "sent_on": "2026-05-01", "shaft": "S2"}]}
    assert _found(tmp_path, rows, "sent_though_spoiled") == [
        (
            "sent_though_spoiled",
            "dispatch of hub H1 on 2026-05-01",
            "it came back on 2026-03-30 as worked-loose and may not be sent again",
        )
    ]


def test_a_hub_of_a_withdrawn_batch_is_not_sent(tmp_path: Path) -> None:
    withdrawn: Row = {"batch": "B2", "pattern": "D8", "undersize_um": "50", "made_on": "2025-12-01", "quantity": "10"}
    rows: dict[str, list[Row]] = {
        "batches": [withdrawn | {"withdrawn_on": "2026-04-01", "withdrawn_because": "soft"}],
        "hubs": [FREE | {"batch": "B2"}],
        "dispatches": [{"hub": "H3", "sent_on": "2026-05-01", "shaft": "S2"}],
    }
    found = _found(tmp_path, rows, "sent_though_spoiled")
    assert [each[2] for each in found] == ["its batch B2 was withdrawn on 2026-04-01"]


@pytest.mark.parametrize(
    ("between", "odd"),
    [
        ({}, True),
        ({"returns": [BACK]}, False),
        ({"dispatches": [{"hub": "H3", "sent_on": "2026-03-01", "shaft": "S2"}]}, False),
        ({"follow_ups": [{"fitting": "F3", "seen_on": "2026-03-01", "state": "removed"}]}, False),
        ({"follow_ups": [{"fitting": "F3", "seen_on": "2026-03-01", "state": "tight"}]}, True),
        ({"shaft_events": [{"shaft": "S1", "happened_on": "2026-03-01", "what": "scrapped"}]}, False),
    ],
)
def test_one_hub_on_two_shafts(tmp_path: Path, between: dict[str, list[Row]], odd: bool) -> None:
    rows = {
        "fittings": [
            fitting("F3", "H3", "2026-02-01"),
            fitting("F4", "H3", "2026-04-01", shaft="S2"),
        ]
    } | between
    told = (
        "on_two_shafts",
        "hub H3, fitting F4",
        "fitted to shaft S2 on 2026-04-01, while on shaft S1 (fitting F3), of which it is not known to have come off",
    )
    assert _found(tmp_path, rows, "on_two_shafts") == ([told] if odd else [])


def _gauged(hub: str, on: str, places: int) -> list[Row]:
    every = [(space, end) for space in range(1, 9) for end in ("mouth", "nut-face")]
    return [
        {"hub": hub, "gauged_on": on, "space": str(space), "end": end, "width_mm": "5.960", "gauge": "G1"}
        for space, end in every[:places]
    ]


@pytest.mark.parametrize(
    ("hub", "on", "places", "told"),
    [
        ("H3", "2026-05-01", 16, []),
        ("H3", "2025-11-01", 16, ["but its batch B1 was made on 2025-12-01"]),
        (
            "H2",
            "2026-05-01",
            16,
            ["while it was out: fitted to shaft S1 on 2026-03-25, and not known to have come back since"],
        ),
        (
            "H1",
            "2026-01-15",
            16,
            ["while it was out: sent for shaft S1 on 2026-01-10, and not known to have come back since"],
        ),
        ("H1", "2026-05-01", 16, []),
        ("H3", "2026-05-01", 8, []),
        ("H3", "2026-05-01", 7, ["at 7 of its 16 places"]),
    ],
)
def test_gaugings_that_cannot_be_or_are_not_whole(
    tmp_path: Path, hub: str, on: str, places: int, told: list[str]
) -> None:
    found = _found(tmp_path, {"hub_spaces": _gauged(hub, on, places)}, "hub_gaugings_odd")
    assert [each[2] for each in found] == told


def test_a_gauge_that_reads_inches_tells_no_millimetres(tmp_path: Path) -> None:
    inches: Row = {"gauge": "G9", "kind": "micrometer-flat", "unit": "in", "resolution": "0.0001"}
    rows = {"gauges": [inches], "hub_spaces": [row | {"gauge": "G9"} for row in _gauged("H3", "2026-05-01", 16)]}
    found = _found(tmp_path, rows, "hub_gaugings_odd")
    assert [each[2] for each in found] == ["in mm, by gauge G9, which reads inches"]


def test_a_hub_that_comes_back_twice_was_sent_between(tmp_path: Path) -> None:
    rows: dict[str, list[Row]] = {
        "dispatches": [{"hub": "H3", "sent_on": "2026-02-01", "shaft": "S2"}],
        "returns": [BACK, BACK | {"returned_on": "2026-04-01"}],
    }
    assert _found(tmp_path, rows, "returned_not_as_sent") == [
        (
            "returned_not_as_sent",
            "return of hub H3 on 2026-04-01",
            "back, as on 2026-03-01 already, and not sent again between",
        )
    ]


@pytest.mark.parametrize(
    ("method", "between", "odd"),
    [
        ("owner-fitted", "Retaining compound", True),
        ("owner-fitted", "brass shim", True),
        ("compound", "retaining compound", False),
        ("repair", "brass shim", False),
        ("owner-fitted", "marking blue", False),
        ("owner-fitted", "oil", False),
    ],
)
def test_a_hub_that_is_bonded_is_not_fitted_by_its_flanks(tmp_path: Path, method: str, between: str, odd: bool) -> None:
    rows: dict[str, list[Row]] = {
        "fittings": [fitting("F3", "H3", "2026-02-01", shaft="S2", method=method, compound=between)]
    }
    found = _found(tmp_path, rows, "fitting_notes_odd")
    told = f"fitted as {method}, but with {between} between: then its method is compound or repair"
    assert [each[2] for each in found] == ([told] if odd else [])
