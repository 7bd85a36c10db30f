"""The hubs that could go on a shaft, a row each: as a frame for whatever draws them, and as a figure."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from wearstats.analysis.advice.outcomes import AS_SUPPLIED, OWNER, WORKSHOP
from wearstats.analysis.advice.rule import Candidate
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.shaft.answer import ladder_rows, say_refusals
from wearstats.report.shaft.ladder_chart import ladder_chart
from wearstats.report.shaft.tables import choices_table
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.shaft.answer import ShaftStudy


def ladder_figure(study: ShaftStudy) -> Figure:
    """Draw the hubs that could go on as a ladder."""
    frame, currency = ladder_frame(study), study.currency
    title = ladder_title(study)
    wide, narrow = (
        ladder_chart(frame, title=title, months=study.horizon_months, currency=currency, width=width)
        for width in (WIDE, NARROW)
    )
    return make_figure("ladder", wide=wide, narrow=narrow, table=choices_table(study))


def ladder_frame(study: ShaftStudy) -> pd.DataFrame:
    """Give the rows of the ladder: a hub of every size that is near, fitted as it would be."""
    hub = study.advice.hub
    told = ladder_rows(study, hub)
    return pd.DataFrame(
        {
            "hub": [_rung(each) for each in told],
            "minutes": [0.0 if each.method == AS_SUPPLIED else each.minutes for each in told],
            "slack": [100 * each.slack for each in told],
            "loose": [_hundredth(each.risk.value) for each in told],
            "low": [_hundredth(each.risk.low) for each in told],
            "high": [_hundredth(each.risk.high) for each in told],
            "cost": [np.nan if each.cost.value is None else each.cost.value for each in told],
            "limit": 100 * study.risk_limit,
            "refused": ["; ".join(say_refusals(each)) for each in told],
            "spoken": [each is hub for each in told],
        }
    )


_HOW: Final = {AS_SUPPLIED: "as it is", OWNER: "owner files", WORKSHOP: "workshop files"}


def _rung(each: Candidate) -> str:
    """Name a hub in a few letters: ``0.050, owner files``."""
    second = "" if each.second_um is None else f" or {each.second_um / 1000:.3f}"
    return f"{each.undersize_um / 1000:.3f}{second}{' special' if each.special else ''}, {_HOW[each.method]}"


def _hundredth(share: float | None) -> float:
    return np.nan if share is None else 100 * share


def ladder_title(study: ShaftStudy) -> str:
    """Say what the hub spoken of takes, or that none is named."""
    hub = study.advice.hub
    if hub is None:
        return "No hub is named; this is what each near its width would take"
    told = f"{_rung(hub)}: {hub.minutes:.0f} minutes" if hub.method != AS_SUPPLIED else f"{_rung(hub)}: no filing"
    if hub.risk.value is None:
        return f"{told}, its chance of working loose not known"
    return f"{told}, {in_hundred(hub.risk.value)} of 100 loose in {study.horizon_months:g} months"
