"""Pictures of very many rows are drawn, thinned where that is needed, and say so."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd

from wearstats.report.loosening.gap_chart import gap_risk_chart
from wearstats.report.rendering.charts import chart_spec, chart_svg


def drawn(hubs: int, failed_share: float) -> dict[str, object]:
    gap = np.linspace(0.0, 40.0, 41)
    curve = pd.DataFrame(
        {"gap_left_um": gap, "risk": gap / 400, "low": gap / 500, "high": gap / 300, "as_read": gap / 450}
    )
    rng = np.random.default_rng(1)
    failed = rng.uniform(size=hubs) < failed_share
    rug = pd.DataFrame({"gap_left_um": rng.uniform(0, 40, hubs), "failed": failed, "supplied": rng.random(hubs) < 0.5})
    chart = gap_risk_chart(curve, rug, horizon_months=12.0, risk_limit=0.05)
    assert chart_svg(chart, name="many").startswith("<svg")
    return chart_spec(chart)


def test_few_hubs_are_all_drawn() -> None:
    text = json.dumps(drawn(200, 0.1))
    assert "is drawn" not in text
    assert text.count('"became"') >= 200


def test_of_very_many_hubs_some_are_drawn_and_it_is_said() -> None:
    text = json.dumps(drawn(60_000, 0.01))
    assert "is drawn" in text
    assert text.count('"became": "others"') <= 1000
    # the few that failed are all there
    assert 400 < text.count('"became": "loose"') < 1000
