"""A picture is the same whatever was drawn before it in the same process."""

from __future__ import annotations

import re

import altair as alt
import pandas as pd

from wearstats.report.rendering.charts import chart_svg


def _chart() -> alt.LayerChart:
    frame = pd.DataFrame({"gap": [0.0, 5.0, 20.0], "risk": [1.0, 2.0, 9.0]})
    line = alt.Chart(frame).mark_line(clip=True).encode(x="gap:Q", y="risk:Q")
    both: alt.LayerChart = line + line.mark_point(clip=True)
    return both.properties(description="risk against gap")


def test_a_picture_drawn_again_is_the_same_to_the_byte() -> None:
    first = chart_svg(_chart(), name="risk")
    assert chart_svg(_chart(), name="risk") == first
    # what is referred to is there, once, under a name of the picture's own
    defined = re.findall(r'\bid="([^"]*)"', first)
    assert defined
    assert len(set(defined)) == len(defined)
    assert all(name.startswith("risk-") for name in defined)
    assert set(re.findall(r"url\(#([^)]*)\)", first)) <= set(defined)
