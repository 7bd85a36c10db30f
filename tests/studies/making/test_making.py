"""The making list: limits, bores and numbers at their edges, and the whole of it on a store."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from wearstats.analysis.making.batch_spread import BatchSpread, spread_of_plugs
from wearstats.cli.main import app
from wearstats.errors import ReportError
from wearstats.report.making.files import write_making
from wearstats.report.remarks.say import say
from wearstats.studies.making.batch_numbers import next_numbers
from wearstats.studies.making.remarks import LimitsFrom, MakingRemark
from wearstats.studies.making.study import half_limits, study_making
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy


def _plugs(half_um: float) -> BatchSpread:
    return spread_of_plugs(np.full(3, -half_um), np.full(3, half_um))


@pytest.mark.parametrize(
    ("spread", "step_um", "half_um", "why"),
    [
        # ISO 286-1 table 1: IT7 over 3 to 6 mm is 12 um
        (None, 25.0, 6.0, LimitsFrom.GRADE),
        (_plugs(5.0), 25.0, 5.0, LimitsFrom.PLUGS),
        (_plugs(12.0), 20.0, 10.0, LimitsFrom.STEP),
        (_plugs(12.0), float("inf"), 12.0, LimitsFrom.PLUGS),
        (_plugs(0.2), 25.0, 1.0, LimitsFrom.PLUGS),
    ],
)
def test_limits_follow_from_batches_but_stay_inside_the_step(
    spread: BatchSpread | None, step_um: float, half_um: float, why: LimitsFrom
) -> None:
    half, told = half_limits(spread, step_um, 6.0)
    assert (half, told.code) == (half_um, why)


def test_numbers_go_on_as_the_shop_counts() -> None:
    assert next_numbers([], 2) == ["1", "2"]
    assert next_numbers(["B0009", "trial", "B0007"], 2) == ["B0010", "B0011"]
    assert next_numbers(["D8-99"], 2) == ["D8-100", "D8-101"]
    assert next_numbers(["A7", "B3"], 1) == ["B4"]
    # a day or a year is no number to count on from
    assert next_numbers(["2026-09-30", "Juli 2026", "12/26"], 1) == ["1"]


def test_the_list_is_made_filled_in_and_added(demo: Snapshot, demo_stock_d8: StockStudy, tmp_path: Path) -> None:
    making = study_making(demo.of("D8"), demo_stock_d8)
    assert f"written: {making.hubs} hubs in " in write_making(making, tmp_path / "list")
    rows = pd.read_csv(tmp_path / "list" / "batches.csv", dtype=str, keep_default_na=False)
    assert set(rows["made_on"]) == {""}
    space = rows["meant_space_mm"].astype(float)
    assert np.allclose(space, 6.01 - rows["undersize_um"].astype(float) / 1000)
    assert (rows["go_mm"].astype(float) < space).all()
    assert (rows["no_go_mm"].astype(float) > space).all()
    page = (tmp_path / "list" / "making-list-a4.html").read_text()
    assert all(text in page for text in [*rows["batch"], *rows["engraved"], "not thereby tight"])
    # what was filled in is not written over
    with pytest.raises(ReportError, match="choose another --making-list"):
        write_making(making, tmp_path / "list")
    rows.assign(made_on="2026-11-02").to_csv(tmp_path / "batches.csv", index=False)
    new = ["--store", str(tmp_path / "new.duckdb")]
    patterns = "patterns\npattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm\nD8,8,6,6.01,32,36,28\n"
    assert CliRunner().invoke(app, ["store", "new", *new]).exit_code == 0
    assert CliRunner().invoke(app, ["store", "add", "-", *new], input=patterns).exit_code == 0
    added = CliRunner().invoke(app, ["store", "add", str(tmp_path / "batches.csv"), *new])
    assert added.exit_code == 0, added.output
    assert f"{len(rows)} read, {len(rows)} accepted" in added.stdout


def test_registers_that_did_not_suit_are_counted(demo: Snapshot, demo_stock_d8: StockStudy) -> None:
    (told,) = (
        each for each in study_making(demo, demo_stock_d8).by_pattern["D8"].remarks if each.code == MakingRemark.MISFITS
    )
    rows = demo.store.rows
    hubs = {hub for (hub,) in rows("select hub from hubs where pattern = 'D8'")}
    sent = [row for row in rows("select hub, sent_on, shaft from dispatches") if row[0] in hubs]
    back = [
        row for row in rows("select hub, returned_on from returns where reason = 'register-misfit'") if row[0] in hubs
    ]
    read = rows("select shaft, measured_on from inspections where register_mm is not null")
    for_shaft = [
        max((day, shaft) for one, day, shaft in sent if one == hub and day <= returned_on) for hub, returned_on in back
    ]
    unread = [shaft for day, shaft in for_shaft if not any(one == shaft and seen <= day for one, seen in read)]
    assert told.facts == {"hubs": len(back), "unread": len(unread), "sent": len(sent)}
    assert "have it read before one is sent" in say(told)
