"""Where a line may be broken: never between a number and its unit, and never so that one word is left alone."""

from __future__ import annotations

import pytest

from wearstats.report.rendering.charts import wrapped, wrapped_small
from wearstats.report.rendering.escape import each_text
from wearstats.report.rendering.no_break import breakable, unbroken


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("0.031 mm (0.0012 in; between 3 and 4 µm, 95 % sure)", "0.031_mm (0.0012_in; between 3 and 4_µm, 95_%_sure)"),
        ("12 in 100 hubs, 3 of 100 (p = 0.26)", "12_in_100 hubs, 3_of_100 (p_=_0.26)"),
        ("no chance (p < 0.001)", "no chance (p_<_0.001)"),
        ("10\u202f500 EUR in 1000 hours", "10\u202f500_EUR in 1000_hours"),
        ("2 in a row, 5 mm2, the end. In 2026 nothing", "2 in a row, 5 mm2, the end. In 2026 nothing"),
    ],
)
def test_what_belongs_together_stays_together(text: str, kept: str) -> None:
    assert unbroken(text).replace("\u00a0", "_") == kept
    assert breakable(unbroken(text)) == text


def test_texts_inside_one_another() -> None:
    assert each_text({"a": ["5 mm", 3, True]}, unbroken) == {"a": ["5\u00a0mm", 3, True]}


def test_lines_are_few_and_even() -> None:
    text = "Shafts lose 1.6 µm in 1000 hours while their hub stays tight (between 0.9 and 2.2)"
    lines = wrapped(text, width=560)
    assert " ".join(lines) == text
    assert len(lines) == 2
    assert min(map(len, lines)) > 35
    assert wrapped_small("one", width=300) == ["one"]
    assert wrapped_small("", width=300) == []


def test_no_line_ends_between_a_number_and_its_unit() -> None:
    text = (
        "Half the D10 shafts have lost more than 0.024 mm, half the D8 shafts have lost more than 0.026 mm, 95 % sure"
    )
    for width in range(100, 700, 7):
        lines = wrapped(text, width=width)
        assert " ".join(lines) == text
        assert not any(line.startswith(("mm", "%", "sure")) for line in lines)
