"""Write the figures of all charts anew, to be looked at before they are committed.

Run as python -m tests.report.support.remake_figures.
"""

from __future__ import annotations

from tests.report.loosening.test_group_chart import GOLDEN as BY_GAP
from tests.report.loosening.test_group_chart import grouped
from tests.report.methods.test_charts import CHARTS as OF_METHODS
from tests.report.rendering.test_charts_golden import CHARTS, GOLDEN
from tests.report.support.chart_spec import figure_lines
from wearstats.report.rendering.charts import chart_spec
from wearstats.report.rendering.theme import WIDE

if __name__ == "__main__":
    BY_GAP.write_text(figure_lines(chart_spec(grouped())), encoding="utf-8")
    for name, draw in {**CHARTS, **OF_METHODS}.items():
        (GOLDEN / f"{name}.jsonl").write_text(figure_lines(chart_spec(draw(WIDE))), encoding="utf-8")
