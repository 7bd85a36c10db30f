"""An intake tells what its own rows make the checks find: no more than that, and of many of a kind only a few."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, add, make_store, small_rows
from wearstats.store.checks import CHECKS, checks_of, run_checks, tables_read
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.findings import MOST_TOLD, MOST_TOLD_OF_A_FIRST_LOAD

Row = dict[str, str | None]


def hubs(count: int, *, space: str = "5.900") -> list[Row]:
    """Give hubs gauged 60 um narrower than 6.010 mm less 50 um."""
    return [
        {"hub": f"X{number}", "pattern": "D8", "undersize_um": "50", "space_width_mm": space} for number in range(count)
    ]


def test_what_was_found_before_is_not_told_again(tmp_path: Path) -> None:
    with open_store(make_store(tmp_path / "small.duckdb"), write=True) as store:
        (note,) = add(store, {"hubs": hubs(1)}, added_on=LATE).notes
        assert note.startswith("kept, but hub X0: gauged 5.900 mm, where D8 less 50 µm leaves 5.960 mm; gauge it again")
        assert (
            add(
                store, {"hubs": [row | {"hub": "Y1", "space_width_mm": "5.961"} for row in hubs(1)]}, added_on=LATE
            ).notes
            == ()
        )
        found = run_checks(store, as_of=LATE)
    assert [(each.check, each.place) for each in found] == [("hub_spaces_far", "hub X0")]


@pytest.mark.parametrize("bulk", [True, False])
def test_of_many_a_few_are_told(tmp_path: Path, bulk: bool) -> None:
    if bulk:
        rows = small_rows()
        rows["hubs"] += hubs(9)
        path = tmp_path / "first.duckdb"
        create_store(path)
    else:
        rows, path = {"hubs": hubs(9)}, make_store(tmp_path / "small.duckdb")
    with open_store(path, write=True) as store:
        told = [note for note in add(store, rows, added_on=LATE).notes if "hub" in note]
    most = MOST_TOLD_OF_A_FIRST_LOAD if bulk else MOST_TOLD
    assert len(told) == most + 1
    assert told[-1] == f"{9 - most} more such as the last (hub_spaces_far): wearstats store check lists them"


def test_each_check_reads_a_table_that_intake_fills() -> None:
    assert [name for name in CHECKS if name != "rejects_open" and not tables_read(name)] == []
    assert "hub_spaces_far" in checks_of({"hubs"})
    assert "hub_spaces_far" not in checks_of({"orders"})
    assert "tight_after_next" in checks_of({"follow_ups"})
    assert "readings_stand_out" in checks_of({"readings"})
