"""The methods in pictures: titles that say the answer, what is not told is said, and it fits small screens."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.report.support.chart_spec import (
    axis_titles,
    empty_views,
    figure_lines,
    misspelt_columns,
    units,
    untitled_axes,
)
from wearstats.report.methods.charts import (
    chances_chart,
    differences_chart,
    differences_title,
    evidence_chart,
    evidence_title,
)
from wearstats.report.rendering.charts import AnyChart, chart_spec, chart_svg
from wearstats.report.rendering.theme import NARROW, WIDE

GOLDEN = Path(__file__).parents[1] / "golden"


def differences() -> pd.DataFrame:
    """Four comparisons told, one surely apart, two not told."""
    return pd.DataFrame(
        {
            "question": ["crude", "as_done", "table", "same_season", "same_shafts", "same_gap"],
            "difference": [0.076, 0.089, 0.065, np.nan, 0.105, np.nan],
            "low": [-0.006, -0.001, -0.035, np.nan, 0.02, np.nan],
            "high": [0.161, 0.178, 0.162, np.nan, 0.21, np.nan],
            "status": ["ok", "ok", "ok", "none", "ok", "none"],
            "why": ["", "", "", "no stratum holds both groups", "", "the gaps hardly overlap"],
        }
    )


def quarters(*, settled: bool = False) -> pd.DataFrame:
    """Four quarters; in the last two no difference is ruled out, where it is settled."""
    low = [-0.6, -0.2, 0.01, 0.02] if settled else [-0.6, -0.2, -0.12, -0.08]
    return pd.DataFrame(
        {
            "quarter": ["2025Q4", "2026Q1", "2026Q2", "2026Q3"],
            "known_on": pd.to_datetime(["2025-12-31", "2026-03-31", "2026-06-30", "2026-09-30"]),
            "supplied": [4, 30, 60, 90],
            "supplied_failed": [0, 3, 8, 12],
            "hand": [0, 25, 50, 80],
            "hand_failed": [0, 2, 3, 5],
            "difference": [np.nan, 0.02, 0.073, 0.071],
            "low": low,
            "high": [0.6, 0.3, 0.2, 0.18],
            "log_evidence": [0.0, 0.1, 0.8, 1.0],
        }
    )


def chances() -> pd.DataFrame:
    """Twelve hubs, two of them to shafts that hardly ever got the other way."""
    chance = [0.05, 0.2, 0.3, 0.35, 0.5, 0.55, 0.25, 0.4, 0.45, 0.6, 0.7, 0.95]
    return pd.DataFrame({"sent": ["hand-fitted"] * 6 + ["as-supplied"] * 6, "chance": chance, "weight": 2.0})


def _apart(width: int) -> AnyChart:
    return differences_chart(differences(), horizon_months=12.0, width=width)


def _evidence(width: int) -> AnyChart:
    return evidence_chart(quarters(), width=width)


def _overlap(width: int) -> AnyChart:
    return chances_chart(chances(), width=width)


CHARTS: dict[str, Callable[[int], AnyChart]] = {
    "methods-apart": _apart,
    "methods-evidence": _evidence,
    "methods-overlap": _overlap,
}
TITLES = {
    "methods-apart": "On the same shafts 10 more of 100 hubs work loose within 12 months as supplied than fitted by "
    "hand (between 2 more and 21 more)",
    "methods-evidence": "Not settled after 90 hubs as supplied and 80 fitted by hand: looked at every quarter, the two "
    "ways may still be equally good",
    "methods-overlap": "10 of 12 hubs went to shafts of a kind that got either method at least once in ten times",
}
every_chart = pytest.mark.parametrize("name", CHARTS)


@every_chart
def test_columns_axes_and_types(name: str) -> None:
    spec = chart_spec(CHARTS[name](WIDE))
    assert misspelt_columns(spec) == []
    assert untitled_axes(spec) == []
    assert empty_views(spec) == 0
    for unit in units(spec):
        for channel, encoding in unit["encoding"].items():
            assert "field" not in encoding or "type" in encoding or channel in {"x2", "y2"}, (channel, encoding)


@every_chart
def test_title_says_the_answer_and_the_description_begins_with_it(name: str) -> None:
    spec = chart_spec(CHARTS[name](WIDE))
    assert " ".join(spec["title"]["text"]) == TITLES[name]
    assert spec["description"].startswith(TITLES[name])


@pytest.mark.parametrize("width", [WIDE, NARROW])
@every_chart
def test_picture_is_no_wider_than_asked(name: str, width: int) -> None:
    size = re.search(r'\bwidth="([\d.]+)"', chart_svg(CHARTS[name](width), name="x"))
    assert size is not None
    assert float(size[1]) <= width


@every_chart
def test_figures_are_as_they_were(name: str) -> None:
    assert figure_lines(chart_spec(CHARTS[name](WIDE))) == (GOLDEN / f"{name}.jsonl").read_text(encoding="utf-8")


def test_axes_carry_units() -> None:
    assert axis_titles(chart_spec(_apart(WIDE))) == ["more loose, of 100 hubs"]
    assert axis_titles(chart_spec(_evidence(WIDE))) == ["known loose more as supplied, of 100 hubs", "quarter"]


def test_what_cannot_be_told_is_said_in_its_row() -> None:
    rows = [row for unit in units(chart_spec(_apart(WIDE))) for row in unit["rows"] if row.get("text") == "not told"]
    assert [row["label"] for row in rows] == ["same pattern and season", "same gap"]


def test_sure_and_unsure_differ_in_more_than_colour() -> None:
    point = next(unit for unit in units(chart_spec(_apart(WIDE))) if unit["mark"]["type"] == "point")
    assert point["encoding"]["shape"]["scale"]["range"] == ["diamond", "circle"]
    assert {row["question"] for row in point["rows"] if row["sure"] == "True"} == {"same_shafts"}


def test_title_falls_back_to_what_is_told() -> None:
    frame = differences()
    frame.loc[frame["question"] == "same_shafts", ["difference", "low", "high"]] = np.nan
    plain = differences_title(frame, horizon_months=12.0)
    assert plain == (
        "As they were sent 8 more of 100 hubs work loose within 12 months as supplied than fitted by hand (between 1 "
        "fewer and 16 more), which may be nothing"
    )
    frame[["difference", "low", "high"]] = np.nan
    assert differences_title(frame, horizon_months=12.0) == "Which way of fitting holds better cannot be told yet"


def test_evidence_says_since_when_it_is_settled() -> None:
    assert evidence_title(quarters(settled=True)) == (
        "Settled since 2026Q2: hubs as supplied are known to work loose more often (90 hubs as supplied and 80 fitted "
        "by hand)"
    )


def test_one_quarter_can_be_drawn() -> None:
    assert "<svg" in chart_svg(evidence_chart(quarters().head(1)), name="one")
