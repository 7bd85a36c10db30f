"""Where a hub is: records in an order that is not the usual one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, fitting, make_store, small_rows
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.shelf.study import study_shelf
from wearstats.studies.snapshot import Snapshot

Rows = Mapping[str, list[dict[str, str | None]]]


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[Callable[[Rows], Snapshot]]:
    opened: list[Store] = []

    def ask(more: Rows) -> Snapshot:
        rows = small_rows()
        for table, added in more.items():
            rows[table] = [*rows.get(table, []), *added]
        opened.append(open_store(make_store(tmp_path / "s.duckdb", rows)))
        return Snapshot(store=opened[-1], known_on=LATE)

    yield ask
    for store in opened:
        store.close()


def _hub(name: str) -> dict[str, str | None]:
    return {"hub": name, "pattern": "D8", "undersize_um": "50", "space_width_mm": "5.96"}


def test_the_other_of_two_sizes_is_still_out_when_the_one_that_stayed_comes_back(
    asked: Callable[[Rows], Snapshot],
) -> None:
    sent = {"sent_on": "2026-02-01", "shaft": "S1", "back_by": "2026-03-01"}
    snapshot = asked(
        {
            "hubs": [_hub("A1"), _hub("C1")],
            "dispatches": [{"hub": "A1", **sent}, {"hub": "C1", **sent}],
            "fittings": [fitting("FA", "A1", "2026-02-10")],
            "returns": [{"hub": "A1", "returned_on": "2026-05-01", "reason": "worked-loose", "fitting": "FA"}],
        }
    )
    loans = snapshot.query("shelf/loans")
    assert [list(hubs) for hubs in loans["hubs"]] == [["C1"]]
    assert loans["to_come"].tolist() == [1]


def test_a_hub_fitted_on_an_unknown_day_is_here_again_once_it_is_back(asked: Callable[[Rows], Snapshot]) -> None:
    snapshot = asked(
        {
            "hubs": [_hub("A3")],
            "dispatches": [{"hub": "A3", "sent_on": "2026-02-10", "shaft": "S1"}],
            "fittings": [fitting("F3", "A3", None)],
            "returns": [{"hub": "A3", "returned_on": "2026-04-01", "reason": "not-needed", "back_on_shelf": "yes"}],
        }
    )
    hubs = study_shelf(snapshot).hubs.set_index("hub")
    assert hubs.loc["A3", "state"] == "to-gauge"


def test_what_the_shelf_forbids_is_not_offered(asked: Callable[[Rows], Snapshot]) -> None:
    snapshot = asked(
        {
            "hubs": [_hub("R0"), _hub("R1")],
            "returns": [{"hub": "R0", "returned_on": "2026-04-01", "reason": "other", "back_on_shelf": "no"}],
        }
    )
    hubs = study_shelf(snapshot).hubs.set_index("hub")
    assert hubs.loc["R0", "state"] == "not-again"
    offered = set(snapshot.query("shaft/shelf", pattern="D8")["hub"])
    assert offered == set(hubs.index[hubs["state"] == "there"]) == {"R1"}


def test_a_second_fitting_goes_by_what_the_hub_was_made_with(asked: Callable[[Rows], Snapshot]) -> None:
    spaces: list[dict[str, str | None]] = [
        {"hub": "N1", "gauged_on": "2026-01-20", "space": str(space), "end": end, "width_mm": "5.975"}
        for space in range(1, 9)
        for end in ("mouth", "nut-face")
    ]
    snapshot = asked(
        {
            "hubs": [{**_hub("N1"), "space_width_mm": "5.99", "undersize_um": "25"}],
            "hub_spaces": spaces,
            "shafts": [{"shaft": "S2", "pattern": "D8"}, {"shaft": "S3", "pattern": "D8"}],
            "fittings": [
                {**fitting("G1", "N1", "2026-02-01", inspections=None), "shaft": "S2"},
                {**fitting("G2", "N1", "2026-05-01", inspections=None), "shaft": "S3"},
            ],
        }
    )
    told = snapshot.store.rows(
        "select fitting, space_width_mm from known_fitted_hubs(date '2026-12-31') where hub = 'N1' order by 1"
    )
    assert told == [("G1", pytest.approx(5.975)), ("G2", pytest.approx(5.975))]
