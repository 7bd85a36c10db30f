"""What is said of the bore over a shaft's register, and which hubs of the shelf it rules out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, inspection, make_store, small_rows
from wearstats.analysis.register.remarks import BoreRemark
from wearstats.report.rendering.short_answer import ShortAnswer
from wearstats.report.shaft.answer import shaft_answer
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

Asked = Callable[[str | None, dict[str, str]], ShaftStudy]


@pytest.fixture
def ask(tmp_path: Path) -> Iterator[Asked]:
    opened: list[Store] = []

    def asked(register: str | None, bores: dict[str, str]) -> ShaftStudy:
        rows = small_rows()
        rows["patterns"] = [{**rows["patterns"][0], "register_mm": "30", "stations": "middle"}]
        rows["gauges"].append({"gauge": "G2", "kind": "micrometer-flat", "unit": "mm", "resolution": "0.001"})
        bench = {"measured_at": "workshop", "measured_by": "bench", "gauge": "G2", "shaft": "S2"}
        rows["shafts"].append({"shaft": "S2", "pattern": "D8"})
        rows["inspections"].append({**inspection("I9", measured_on="2026-04-01", **bench), "register": register})
        rows["readings"] += [{**row, "inspection": "I9"} for row in rows["readings"] if row["inspection"] == "I1"]
        rows["hubs"] += [
            {"hub": hub, "pattern": "D8", "undersize_um": "50", "space_width_mm": "5.962", "register_mm": bore}
            for hub, bore in bores.items()
        ]
        opened.append(open_store(make_store(tmp_path / f"{len(opened)}.duckdb", rows)))
        return study_shaft(Snapshot(store=opened[-1], known_on=LATE), "S2", wanted=True)

    yield asked
    for store in opened:
        store.close()


def _lines(study: ShaftStudy) -> str:
    answer: ShortAnswer = shaft_answer(study)
    return " ".join(" ".join(answer.lines()).split())


def test_nothing_is_said_where_no_register_was_read(ask: Asked) -> None:
    study = ask(None, {"H9": "29.97"})
    assert study.bore is None
    assert "bore" not in _lines(study)


def test_an_empty_shelf_is_no_fault(ask: Asked) -> None:
    study = ask("30.000", {})
    assert study.bore is not None
    assert study.bore.code == BoreRemark.TURN_TO


def test_a_bore_that_is_surely_too_wide_rules_its_hub_out(ask: Asked) -> None:
    study = ask("30.000", {"H8": "30.300"})
    assert all(choice.candidate.hub is None for choice in study.choices)
    both = ask("30.000", {"H8": "30.300", "H9": "29.900"})
    assert {choice.candidate.hub for choice in both.choices} <= {None, "H9"}


def test_a_figure_far_from_a_new_register_is_measured_again(ask: Asked) -> None:
    study = ask("30.400", {})
    assert study.bore is not None
    assert study.bore.code == BoreRemark.FAR
