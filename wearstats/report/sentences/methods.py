"""What happened by fitting method, in words."""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import TYPE_CHECKING, Any

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.report.sentences.loosening import method_name
from wearstats.report.sentences.phrases import count, in_hundred, joined, months, sentence, sure_fewer

if TYPE_CHECKING:
    from wearstats.studies.methods import MethodsStudy


def methods_sentences(study: MethodsStudy) -> list[str]:
    """Say how often hubs worked loose within the horizon, by what was sent, and what that does not prove."""
    table = study.methods_frame()
    sent = table[table["by"] == "sent"]
    risks = [_risk(row) for row in sent.to_dict("records") if pd.notna(row["risk"])]
    if not risks:
        return [sentence("How often hubs work loose by fitting method cannot be told from these data yet")]
    lines = [sentence(f"Within {months(study.horizon_months)} of fitting there worked loose: {joined(risks)}")]
    lines += _difference(study.differences["sent"])
    lines += [_no_failure(row) for row in sent.to_dict("records") if row["failures"] == 0]
    lines.append(
        sentence(
            "Shafts were not allotted to methods by lot: part of a difference may belong to the shafts, not the method"
        )
    )
    return lines


def _difference(difference: Estimate) -> list[str]:
    """Say how far apart the methods are, and whether that is more than chance."""
    if difference.value is None or difference.low is None or difference.high is None:
        return []
    fewer, sure = sure_fewer(difference)
    fail = f"Of 100 hubs sent as supplied {fewer} work loose than of 100 sent to be fitted by hand{sure}"
    if difference.low <= 0 <= difference.high:
        fail += "; these data cannot tell which hold better"
    return [sentence(fail)]


def _no_failure(row: dict[Hashable, Any]) -> str:
    hubs = f"{count(int(row['fittings']), 'hub')} sent {method_name(str(row['method']))}"
    bound = "" if pd.isna(row["high"]) else f"; go by the upper bound of {in_hundred(float(row['high']))} in 100"
    return sentence(f"None of {hubs} has failed yet{bound}")


def _risk(row: dict[Hashable, Any]) -> str:
    risk, low, high = (float(row[name]) for name in ("risk", "low", "high"))
    hubs = f"{in_hundred(risk)} in 100 hubs sent {method_name(str(row['method']))}"
    return hubs if math.isnan(low + high) else f"{hubs} (between {in_hundred(low)} and {in_hundred(high)}, 95 % sure)"
