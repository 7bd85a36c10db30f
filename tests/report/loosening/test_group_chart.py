"""Curves by group: the title tells whether groups differ, small groups are told in words, and it fits small screens."""

from __future__ import annotations

import re
from pathlib import Path

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
from wearstats.report.loosening.group_chart import grouped_curves_chart, grouped_curves_title
from wearstats.report.rendering.charts import AnyChart, chart_spec, chart_svg
from wearstats.report.rendering.theme import NARROW, WIDE

GOLDEN = Path(__file__).parents[1] / "golden" / "curves-by-gap.jsonl"
BANDS = ("up to 10 µm", "10 to 25 µm", "over 25 µm")
MONTHS = (0.0, 6.0, 12.0, 18.0)


def _curves(groups: tuple[str, ...] = BANDS) -> pd.DataFrame:
    rows = [
        (group, month, 1 - 0.002 * (number + 1) * month, 1 - 0.004 * (number + 1) * month, 1 - 0.001 * month)
        for number, group in enumerate(groups)
        for month in MONTHS
    ]
    return pd.DataFrame(rows, columns=["group", "months", "still_tight", "low", "high"])


def _at_risk(groups: tuple[str, ...] = BANDS, *, last: int = 12) -> pd.DataFrame:
    counts = [60, 40, 22, last]
    rows = [(group, month, count) for group in groups for month, count in zip(MONTHS, counts, strict=True)]
    return pd.DataFrame(rows, columns=["group", "months", "at_risk"])


def _groups(groups: tuple[str, ...] = BANDS, **said: str) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "group": groups,
            "fittings": [60 - number for number in range(len(groups))],
            "said": pd.Series([said.get(group) for group in groups], dtype=object),
        }
    )


def grouped(width: int = WIDE, adjusted_p: float | None = 0.001) -> AnyChart:
    return grouped_curves_chart(
        _curves(),
        _at_risk(),
        _groups(),
        by="gap_band",
        adjusted_p=adjusted_p,
        estimator="turnbull",
        horizon_months=12,
        width=width,
    )


def _words(chart: AnyChart) -> str:
    return " ".join(chart_spec(chart)["title"]["subtitle"])


@pytest.mark.parametrize(
    ("adjusted_p", "head"),
    [
        (0.001, "Hubs differ by what was known of the gap: still tight"),
        (0.2, "No sure difference by what was known of the gap: still tight"),
        (None, "Hubs still tight"),
    ],
)
def test_title_says_whether_groups_differ(adjusted_p: float | None, head: str) -> None:
    title = grouped_curves_title(_curves(), _at_risk(), by="gap_band", adjusted_p=adjusted_p, horizon_months=12)
    shares = "98 of 100 with up to 10 µm, 95 of 100 with 10 to 25 µm, 93 of 100 with over 25 µm"
    assert title == f"{head} after 12 months are {shares}"
    assert " ".join(chart_spec(grouped(adjusted_p=adjusted_p))["title"]["text"]) == title


@pytest.mark.parametrize(("adjusted_p", "said"), [(0.0002, "(p < 0.001)"), (0.004, "(p = 0.004)"), (0.2, "(p = 0.20)")])
def test_the_probability_is_told_with_what_it_allows_for(adjusted_p: float, said: str) -> None:
    assert f"allowing for all groupings looked at {said}." in _words(grouped(adjusted_p=adjusted_p))
    assert "groupings looked at" not in _words(grouped(adjusted_p=None))


def test_title_does_not_speak_of_few() -> None:
    few = grouped_curves_title(_curves(), _at_risk(last=3), by="duty", adjusted_p=0.5, horizon_months=18)
    assert few == "Too few hubs have been followed for 18 months to tell them apart by duty"
    some = pd.concat([_at_risk(BANDS[:2]), _at_risk(BANDS[2:], last=3)])
    title = grouped_curves_title(_curves(), some, by="duty", adjusted_p=0.5, horizon_months=18)
    assert title.endswith("93 of 100 10 to 25 µm; too few over 25 µm to say")


def test_small_groups_are_told_in_words() -> None:
    methods = ("as-supplied", "owner-fitted", "workshop-fitted")
    chart = grouped_curves_chart(
        _curves(methods[:2]),
        _at_risk(methods),
        _groups(methods, **{"workshop-fitted": "3 fittings, 0 worked loose; too few to say more"}),
        by="method_done",
        adjusted_p=None,
        estimator="kaplan-meier",
        horizon_months=12,
    )
    words = _words(chart)
    assert "workshop-fitted: 3 fittings, 0 worked loose; too few to say more." in words
    assert "Kaplan-Meier" in words
    assert "like is compared with like only by the comparison of methods" in words
    drawn = {row["group"] for unit in units(chart_spec(chart)) for row in unit["rows"]}
    assert drawn == {"as-supplied", "owner-fitted"}


def test_at_most_four_lines_are_drawn() -> None:
    regions = tuple("abcdef")
    chart = grouped_curves_chart(
        _curves(regions), _at_risk(regions), _groups(regions), by="region", adjusted_p=0.5, estimator="turnbull",
        horizon_months=12,
    )  # fmt: skip
    assert {row["group"] for unit in units(chart_spec(chart)) for row in unit["rows"]} == set("abcd")
    assert "2 smaller groups are not drawn." in _words(chart)


def test_columns_axes_and_words_are_sound() -> None:
    spec = chart_spec(grouped())
    assert misspelt_columns(spec) == []
    assert empty_views(spec) == 0
    assert untitled_axes(spec) == []
    assert axis_titles(spec) == ["months since fitting", "hubs still tight, %"]
    assert spec["description"].startswith(" ".join(spec["title"]["text"]))


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_picture_is_no_wider_than_asked(width: int) -> None:
    size = re.search(r'\bwidth="([\d.]+)"', chart_svg(grouped(width), name="x"))
    assert size is not None
    assert float(size[1]) <= width


def test_figures_are_as_they_were() -> None:
    assert figure_lines(chart_spec(grouped())) == GOLDEN.read_text(encoding="utf-8")
