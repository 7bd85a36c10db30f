"""Pictures and a page in which every name is another thing's name than it should be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tests.report.support import small_frames
from tests.robustness.hostile_names import KEPT, LONG, UNPRINTABLE
from wearstats.report.gauging.chart import measurers_chart
from wearstats.report.loosening.survival_chart import curves_chart
from wearstats.report.page.model import Page, Section, make_figure
from wearstats.report.rendering.charts import AnyChart
from wearstats.report.rendering.tables import DataTable
from wearstats.report.review.charts import at_risk_chart
from wearstats.report.shaft.history_chart import history_chart
from wearstats.report.shaft.map_chart import map_chart

CHARTS = ("map", "history", "curves", "at_risk", "measurers")
NAMES_DRAWN = [name for name in (*KEPT, *UNPRINTABLE) if name != LONG]


def named_chart(kind: str, name: str) -> AnyChart:
    """Draw a picture of a thing, or a group, of that name."""
    if kind == "map":
        return map_chart(small_frames.shaft_map(), shaft=name, hub=name)
    if kind == "history":
        return history_chart(small_frames.history(), shaft=name)
    if kind == "at_risk":
        at_risk = small_frames.hubs_at_risk()
        return at_risk_chart(at_risk.assign(shaft=name, **({"fitting": name} if "fitting" in at_risk else {})))
    if kind == "measurers":
        return measurers_chart(small_frames.measurers().assign(measurer=name))
    renamed = {"as-supplied": name}
    curves, at_risk = (frame.replace({"group": renamed}) for frame in (small_frames.curves(), small_frames.at_risk()))
    return curves_chart(curves, at_risk, horizon_months=12)


def named_page(name: str, *, kind: str = "map", names: Sequence[str] = ()) -> Page:
    """Make a page that says one name in all its places, and more names in a table."""
    rows = tuple((each, each) for each in (*names, name))
    table = DataTable(caption=name, head=(name, "b"), rows=rows)
    section = Section(name="names", heading=name, sentences=(name,), points=(name,), tables=(table,))
    chart = named_chart(kind, name)
    figure = make_figure("named", wide=chart, narrow=chart, table=replace(table, rows=rows[-1:]))
    return Page(
        title=name,
        known_until=name,
        answer=(name,),
        sections=(section, replace(section, name="drawn", tables=(), figures=(figure,))),
        cautions=(name,),
        cautions_heading=name,
        glossary={name: name},
    )
