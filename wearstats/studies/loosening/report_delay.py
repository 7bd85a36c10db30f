"""How late unasked reports come, and what would follow had those who did not say come loose at another time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wearstats.analysis.histories.delays import ReportDelay
from wearstats.analysis.histories.measure import with_other_delay
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.loosening.covariates import covariates_of
from wearstats.studies.loosening.fit_from_store import loosening_fit, require_gaps
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

_A_DAY = 1.0 / MEAN_MONTH_DAYS
TRIED_MONTHS = (_A_DAY, 2.0)
"""Within how many months before the report the others may have come loose: on the very day, or late; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DelayStudy:
    """How late reports come, and what hangs on it.

    Parameters
    ----------
    delay : ReportDelay
        What is known and what is taken.
    shape : float or None
        Weibull shape as it is taken; None where there is no model.
    shape_at_once, shape_late : float or None
        Had all who did not say come loose on the day of their report, or within two months before it; None where all
        said, too.
    """

    delay: ReportDelay
    shape: float | None
    shape_at_once: float | None
    shape_late: float | None

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "day_told": self.delay.told,
            "day_not_told": self.delay.untold,
            "day_told_asked": self.delay.told_asked,
            "day_not_told_asked": self.delay.found_asked,
            "mean_months": self.delay.mean_months,
            "sd_months": self.delay.sd_months,
            "mean_months_found_by_asking": self.delay.mean_asked_months,
            "status": "ok" if self.delay.learnt else "assumed",
            "shape": self.shape,
            "shape_if_at_once": self.shape_at_once,
            "shape_if_within_two_months": self.shape_late,
        }


@part(*EVERYTHING, kept=True)
def study_report_delay(snapshot: Snapshot) -> DelayStudy:
    """Tell how late unasked reports come, and fit anew with other delays of those who did not say."""
    histories = histories_of(snapshot)
    delay = histories.delay
    try:
        fit = loosening_fit(snapshot)
    except AnalysisError:
        return DelayStudy(delay=delay, shape=None, shape_at_once=None, shape_late=None)
    if not delay.untold:
        return DelayStudy(delay=delay, shape=fit.shape, shape_at_once=None, shape_late=None)
    known, rows = require_gaps(histories.by_flanks, known_gaps(snapshot))
    covariates, names = covariates_of(known)
    nodes = known_gaps(snapshot).nodes["gap_left_um"].take(rows)
    at_once, late = (
        fit_loosening(
            SilentHistories.from_frame(with_other_delay(known, delay, (0.0, months))),
            nodes, covariates=covariates, names=names, start=fit.parameters,
        ).shape
        for months in TRIED_MONTHS
    )  # fmt: skip
    return DelayStudy(delay=delay, shape=fit.shape, shape_at_once=at_once, shape_late=late)
