"""Hubs found slack on trial beside those expected: shafts with known truth, drawn here and read by one workshop."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.store.support.small_store import LATE, PATTERN, inspection, make_store
from wearstats.domain.contact import PLAY_LIMIT_UM
from wearstats.store.database.connection import open_store
from wearstats.studies.gaps.remarks import SlackRemark
from wearstats.studies.gaps.slack_on_trial import slack_on_trial
from wearstats.studies.snapshot import Snapshot

SHAFTS = 120


def _snapshot(path: Path, *, send_back: bool) -> tuple[Snapshot, int]:
    rng = np.random.default_rng(11)
    rows: dict[str, list[dict[str, str | None]]] = {name: [] for name in _TABLES}
    rows["patterns"] = [{**PATTERN, "stations": "middle"}]
    rows["gauges"] = [{"gauge": "G1", "kind": "micrometer-flat", "unit": "mm", "resolution": "0.001"}]
    slack = 0
    for number in range(SHAFTS):
        shaft, hub = f"S{number:03d}", f"H{number:03d}"
        width_um = 5960 + 12 * rng.standard_normal() + 3 * rng.standard_normal(8)
        # the smallest gap lies evenly from none to twice the limit
        space_um = width_um.max() + rng.uniform(0, 2 * PLAY_LIMIT_UM)
        loose = bool(space_um - width_um.max() > PLAY_LIMIT_UM)
        slack += loose
        rows["shafts"].append({"shaft": shaft, "pattern": "D8"})
        at = {"shaft": shaft, "measured_at": "workshop", "measured_by": "bench"}
        rows["inspections"].append(inspection(f"I{number}", **at))
        rows["readings"] += [
            {"inspection": f"I{number}", "spline": str(at + 1), "station": "middle", "trial": str(trial), "width": read}
            for at, width in enumerate(width_um)
            for trial in (1, 2)
            for read in (f"{(width + 1.5 * rng.standard_normal()) / 1000:.3f}",)
        ]
        space = {"space_width_mm": f"{space_um / 1000:.4f}", "space_u_um": "0.5"}
        rows["hubs"].append({"hub": hub, "pattern": "D8", "undersize_um": f"{max(6010 - space_um, 0):.0f}", **space})
        rows["dispatches"].append({"hub": hub, "sent_on": "2026-02-01", "shaft": shaft})
        if loose and send_back:
            rows["returns"].append({"hub": hub, "returned_on": "2026-02-20", "reason": "slack-on-trial"})
        else:
            kept = {"fitting": f"F{number}", "shaft": shaft, "hub": hub, "fitted_on": "2026-02-20"}
            rows["fittings"].append({**kept, "method": "as-supplied"})
    return Snapshot(store=open_store(make_store(path, rows)), known_on=LATE), slack


_TABLES = (
    "patterns", "gauges", "shafts", "inspections", "readings", "hubs", "dispatches", "fittings", "returns",
)  # fmt: skip


@pytest.fixture(params=[True, False], ids=["sent back", "kept on"])
def asked(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Snapshot, int, bool]]:
    snapshot, slack = _snapshot(tmp_path / "s.duckdb", send_back=request.param)
    yield snapshot, slack, request.param
    snapshot.store.close()


def test_as_many_as_are_slack_are_expected(asked: tuple[Snapshot, int, bool]) -> None:
    snapshot, slack, sent_back = asked
    found = slack_on_trial(snapshot)
    assert found is not None
    assert (found.tried, found.slack) == (SHAFTS, slack if sent_back else 0)
    expected = found.predicted
    assert expected.low is not None
    assert expected.high is not None
    assert expected.low <= slack <= expected.high
    assert expected.high - expected.low < 30
    assert found.verdict.code == (SlackRemark.AS_EXPECTED if sent_back else SlackRemark.FEWER)
