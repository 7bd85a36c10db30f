"""What tolerances give a hub: why one made within its limits is not surely tight, least of all on a worn shaft."""

from __future__ import annotations

from typing import Any, Final

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.tolerances.limits_fits import MOST_MM, Fit, fit
from wearstats.domain.tolerances.selective_assembly import clearance_probability_normal, clearance_probability_uniform
from wearstats.domain.tolerances.standard_splines import StandardSpline, iso_14_centring_fit, standard_of
from wearstats.errors import AnalysisError
from wearstats.studies.limits.answer import LimitsStudy, PatternLimits, StandardFit
from wearstats.studies.limits.remarks import LimitsRemark, LimitsVerdict
from wearstats.studies.snapshot import Snapshot, part
from wearstats.studies.wear.study import study_wear

THOU_UM: Final = 25.4
"""A thousandth of an inch, a limit on play that shops state; common practice, no source."""
_FITS: Final = (("fixed", "H9/h10"), ("fixed, hardened", "H11/h10"), ("close", "H9/f9"), ("sliding", "H9/d10"))
"""ISO 14:1982, tolerances of the width B."""
_MOST_CENTRED_MM: Final = 50.0
"""So far the classes of the minor diameter are on hand."""


@part("known_on", "models_from", "pattern", "seed")
def study_limits(snapshot: Snapshot) -> LimitsStudy:
    """Answer what standard fits give a hub of each pattern, on new shafts and on those of the record.

    Raises
    ------
    AnalysisError
        Where no pattern is known.
    """
    known = snapshot.query("store/patterns")
    if snapshot.pattern is not None:
        known = known[known["pattern"] == snapshot.pattern]
    if known.empty:
        raise AnalysisError(
            f"no pattern was known on {snapshot.known_on.isoformat()}",
            needed="add patterns with: wearstats store add patterns.csv",
        )
    worn = _worn(snapshot)
    rows = known.to_dict("records")
    return LimitsStudy(
        as_of=snapshot.known_on,
        by_pattern={
            str(row["pattern"]): _limits(row, worn.get(str(row["pattern"]), no_estimate(None))) for row in rows
        },
    )


def _worn(snapshot: Snapshot) -> dict[str, Estimate]:
    """Give the mean wear by pattern, as far as it is told."""
    try:
        study = study_wear(snapshot, short=True)
    except AnalysisError:
        return {}
    return {name: part.wear.mean_um for name, part in study.by_pattern.items() if part.wear is not None}


def _limits(row: dict[Any, Any], worn: Estimate) -> PatternLimits:
    width = float(row["width_mm"])
    standard = standard_of(
        splines=int(row["splines"]), width_mm=width, minor_mm=float(row["minor_mm"]), major_mm=float(row["major_mm"])
    )
    # what is not told apart from no wear is no wear to reckon with
    mean = worn.value if worn.value is not None and worn.side() == 1 else None
    fits = tuple(_standard(meant, classes, width, mean) for meant, classes in _FITS) if width <= MOST_MM else ()
    return PatternLimits(
        pattern=str(row["pattern"]),
        source=_source(standard, width, bool(fits)),
        width_mm=width,
        fits=fits,
        centring=_centring(standard),
        worn_um=worn,
        verdict=_judge(fits[0].fit if fits else None, mean),
    )


def _standard(meant: str, classes: str, width_mm: float, worn_um: float | None) -> StandardFit:
    limits = fit(width_mm, classes)
    return StandardFit(
        meant=meant,
        classes=classes,
        fit=limits,
        within_25=(
            float(clearance_probability_uniform(limits, THOU_UM)),
            clearance_probability_normal(limits, THOU_UM),
        ),
        worn_um=None if worn_um is None else (limits.low_um + worn_um, limits.high_um + worn_um),
    )


def _source(standard: StandardSpline | None, width_mm: float, found: bool) -> Remark:
    if not found:
        return remark(LimitsRemark.TOO_WIDE, width_mm=width_mm, most_mm=MOST_MM)
    if standard is None:
        return remark(LimitsRemark.BY_WIDTH, width_mm=width_mm)
    return remark(LimitsRemark.ISO_14, designation=standard.designation)


def _centring(standard: StandardSpline | None) -> Fit | None:
    if standard is None or standard.minor_mm > _MOST_CENTRED_MM:
        return None
    return iso_14_centring_fit(standard, "fixed")


def _judge(tightest: Fit | None, worn_um: float | None) -> Remark:
    """Say what the tightest of the standard fits gives, a function of its limits."""
    if tightest is None or tightest.high_um > 0:
        return remark(
            LimitsVerdict.MAY_RATTLE,
            loosest_um=None if tightest is None else tightest.high_um,
            worn_um=worn_um,
        )
    return remark(LimitsVerdict.HOLDS, tightest_um=-tightest.high_um)
