"""What a mark tells: a name and written fields, rounded; no bound under the estimate's name, and nothing internal."""

from __future__ import annotations

from typing import Any

import pytest

from tests.report.rendering.test_charts_golden import CHARTS, wide_spec
from tests.report.support.chart_spec import units
from wearstats.report.page.tooltips import with_tooltips


def tooltips(name: str) -> list[list[dict[str, Any]]]:
    told = [unit["encoding"]["tooltip"] for unit in units(with_tooltips(wide_spec(name)))]
    return [fields for fields in told if fields]


@pytest.mark.parametrize("name", CHARTS)
def test_fields_are_few_written_and_rounded(name: str) -> None:
    before = str(wide_spec(name))
    for fields in tooltips(name):
        assert 1 <= len(fields) <= 3
        assert len({field["title"] for field in fields}) == len(fields)
        for field in fields:
            assert field["title"]
            assert "_" not in field["title"]
            assert field["type"] != "quantitative" or field["format"] == ",.3~r"
            if field["field"] in {"low", "high", "low_um", "high_um"} and field["title"] != "to":
                assert field["title"].endswith(", from"), field
    assert str(wide_spec(name)) == before, "the drawn picture's own specification is left alone"


def test_hubs_at_risk_are_named() -> None:
    assert all(fields[0]["title"] in {"shaft", "hub"} for fields in tooltips("at-risk"))
