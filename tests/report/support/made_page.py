"""A small page with one of everything, and one text that tries to be markup."""

from __future__ import annotations

from tests.report.support import small_frames
from wearstats.report.loosening.survival_chart import curves_chart
from wearstats.report.page.model import Page, Section, make_figure
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.shaft.map_chart import map_chart
from wearstats.report.words.cautions import CAUTIONS, HEADING
from wearstats.report.words.glossary import GLOSSARY

EVIL = "<script>alert(1)</script> & \"quoted\" 'S-3'"


def made_page(*, invented: bool = True) -> Page:
    """Make the page."""
    curves, at_risk, shaft_map = small_frames.curves(), small_frames.at_risk(), small_frames.shaft_map()
    wide, narrow = (curves_chart(curves, at_risk, horizon_months=12, width=width) for width in (WIDE, NARROW))
    table = table_of(
        at_risk, caption="Hubs followed", columns={"group": "method", "months": "months", "at_risk": "hubs"}
    )
    map_wide, map_narrow = (map_chart(shaft_map, shaft=EVIL, hub="the hub", width=width) for width in (WIDE, NARROW))
    map_table = table_of(shaft_map, caption=EVIL, columns={"spline": "spline", "width_um_below_new": "below new, µm"})
    wide_table = DataTable(
        caption="Many columns", head=tuple(f"column {n}" for n in range(12)), rows=(tuple("1234.5" for _ in range(12)),)
    )
    return Page(
        title="A page",
        known_until="30 September 2026",
        answer=("The answer first.", EVIL),
        sections=(
            Section(
                name="curves-section",
                heading="Do hubs stay tight?",
                sentences=("Most do.",),
                figures=(make_figure("curves", wide=wide, narrow=narrow, table=table),),
            ),
            Section(
                name="map-section",
                heading="Which hub?",
                points=("One.", "Two."),
                tables=(wide_table,),
                figures=(make_figure("map", wide=map_wide, narrow=map_narrow, table=map_table),),
            ),
        ),
        cautions=CAUTIONS,
        cautions_heading=HEADING,
        glossary=GLOSSARY,
        invented=invented,
    )
