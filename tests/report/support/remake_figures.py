"""Write the figures of all charts anew, to be looked at before they are committed.

Run as python -m tests.report.support.remake_figures.
"""

from __future__ import annotations

import json

from tests.report.rendering.test_charts_golden import CHARTS, GOLDEN, wide_spec
from tests.report.support.chart_spec import figures

if __name__ == "__main__":
    for name in CHARTS:
        lines = [json.dumps(view, ensure_ascii=False) for view in figures(wide_spec(name))]
        (GOLDEN / f"{name}.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
