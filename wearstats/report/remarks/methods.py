"""What is remarked of the comparison of the methods."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.report.words.phrases import in_hundred, more_or_fewer, span, within
from wearstats.studies.methods.remarks import MethodsNext, MethodsStudyRemark, MethodsVerdict

_ONCE = "at {power_percent:g} % power, two-sided {size_percent:.2g} %, followed like those on record"
_EVERY_QUARTER = (
    "looked at every quarter, {power_percent:g} % of futures settled, {a_quarter} first hubs of shafts a quarter as of "
    "late; if the shares known loose stay as they are, low if they differ as much as their interval allows"
)
_SENT: Final = {"as-supplied": "as supplied", "hand-fitted": "to be fitted by hand"}


def _not_followed(way: str, months: float) -> str:
    return f"no fitting sent {_SENT[way]} is followed beyond {months:.1f} months"


def _apart(share: float, months: float) -> str:
    return f"{more_or_fewer(share)} in 100 {within(months)}"


def _sided(answer: str) -> Callable[..., str]:
    def said(*, apart: float, strict: bool, months: float) -> str:
        if strict:
            return f"{answer}: {_apart(apart, months)} on like shafts; the strict test agrees"
        return f"on like shafts {answer}: {_apart(apart, months)}"

    return said


def _as_sent_only(*, more: bool, apart: float | None, like_told: bool, months: float) -> str:
    by = "" if apart is None else f", {_apart(apart, months)}"
    like = "not settled" if like_told else "cannot be told"
    return f"as sent {'yes' if more else 'no'}{by}; on like shafts {like}"


def _alike(*, bound: float, like_told: bool, months: float) -> str:
    where = "on like shafts" if like_told else "as sent"
    return f"{where} none seen: over {in_hundred(bound)} in 100 {within(months)} is ruled out"


def _open(*, low: float, high: float, months: float) -> str:
    return f"not settled: {more_or_fewer(low)} to {more_or_fewer(high)} in 100 {within(months)}"


METHODS: Final[Mapping[str, str | Callable[..., str]]] = {
    MethodsRemark.ONE_GROUP_EMPTY: "one of the two groups has no fitting whose outcome at the horizon is known",
    MethodsRemark.EVIDENCE: (
        "confidence sequence from an e-process for two proportions, a block each quarter and half-year of sending, "
        "of the share known to have worked loose by the horizon, as supplied minus fitted by hand"
    ),
    MethodsRemark.LIKE_SHAFTS: (
        "curves with silence, weighed by the chance of the method and corrected by outcome lines, shafts drawn anew"
    ),
    MethodsRemark.WEIGHTS_ALONE: "weights alone",
    MethodsRemark.LINES_ALONE: "outcome lines alone",
    MethodsRemark.TOO_FEW: "fewer than {fewest} fittings with readings in hand were sent one of the two ways",
    MethodsRemark.NOT_FOLLOWED: _not_followed,
    MethodsRemark.HARDLY_EVER: (
        "the two methods do not overlap: {percent:.0f} in 100 fittings are of shafts that hardly ever got the other "
        "method"
    ),
    MethodsRemark.WORTH_FEW: (
        "the two methods hardly overlap: after weighting a group is worth {effective:.0f} fittings"
    ),
    MethodsRemark.NOT_ALIKE: (
        "the two methods do not overlap: weights cannot make the groups alike in {covariate} ({apart:.2f} standard "
        "deviations apart)"
    ),
    MethodsRemark.DIFFERENCE_NOT_TOLD: "the difference cannot be told: {why}",
    MethodsRemark.ZERO_LEFT_OUT: "the interval of the difference leaves out zero already",
    MethodsRemark.NO_DIFFERENCE_SEEN: (f"no difference is seen; low if it is as large as its interval allows, {_ONCE}"),
    MethodsRemark.LOOKED_AT_ONCE: (
        f"if the difference is as now estimated; low if as large as its interval allows, {_ONCE}"
    ),
    MethodsRemark.SETTLED: "settled already",
    MethodsRemark.NONE_OF_BOTH: "no fittings of both ways have reached the horizon yet",
    MethodsRemark.LOOKED_AT_EVERY_QUARTER: _EVERY_QUARTER,
    MethodsRemark.TOO_MANY_QUARTERS: (
        f"more than {{fittings}} shafts if the shares stay as they are; {_EVERY_QUARTER}"
    ),
    MethodsStudyRemark.NO_READINGS: "no fitting has readings that were in hand when its hub was chosen",
    MethodsStudyRemark.NO_GAP_LAW: "no model of the chance against the gap was fitted to these fittings alone",
    MethodsVerdict.MORE: _sided("yes"),
    MethodsVerdict.FEWER: _sided("no"),
    MethodsVerdict.AS_SENT_ONLY: _as_sent_only,
    MethodsVerdict.AT_ODDS: "not settled: as sent and on like shafts they point opposite ways",
    MethodsVerdict.ALIKE: _alike,
    MethodsVerdict.OPEN: _open,
    MethodsVerdict.UNTOLD: lambda months: f"cannot be told: too few hubs of both ways followed {span(months)}",
    MethodsNext.BY_GAP: "choose by the gap that will be left, not by habit",
    MethodsNext.FILE: "have hubs filed to fit, even where the gap would be the same",
    MethodsNext.FILE_WHERE_UNKNOWN: "choose by the gap that will be left; where it is not known, file to fit",
    MethodsNext.UNTIL_SETTLED: "until it is settled, choose by the gap that will be left",
    MethodsNext.KEEP_RECORDS: "note how each hub was sent, and ask its owner after a year: wearstats calls",
}
