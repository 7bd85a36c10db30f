"""What is remarked of working loose against the gap."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.report.words.phrases import in_hundred, span, two_figures, within
from wearstats.studies.loosening.remarks import LooseningStudyRemark, LooseningVerdict

_CROSSING = (
    "where the curve of risk within {months:g} months crosses {limit_percent:g} %, the ends where its "
    "{level_percent:.0f} % band does; the largest gap on record that stayed under the limit, not an approval"
)


def _up_to(*, gap_um: float, low_um: float | None, high_um: float | None, limit: float, months: float) -> str:
    low = two_figures(low_um or 0.0)
    ends = f"{low} or more" if high_um is None else f"{low} to {two_figures(high_um)}"
    return f"{_under(limit, months)}: gaps up to {two_figures(gap_um)} µm ({ends})"


def _under(limit: float, months: float) -> str:
    return f"under {in_hundred(limit)} in 100 {within(months)}"


def _at_every_gap(*, sure_um: float | None, limit: float, months: float) -> str:
    surely = f"surely up to {two_figures(sure_um)} µm" if sure_um else "surely at none"
    return f"{_under(limit, months)} at every gap, {surely}"


def _together(tail: str) -> Callable[..., str]:
    def said(*, risk: float, low: float | None, high: float | None, months: float) -> str:
        ends = "" if low is None or high is None else f" ({in_hundred(low)} to {in_hundred(high)})"
        return f"{in_hundred(risk)} in 100 work loose {within(months)}{ends}; {tail}"

    return said


LOOSENING: Final[Mapping[str, str | Callable[..., str]]] = {
    LooseningRemark.PROFILE: "profile of the penalised likelihood; {told}",
    LooseningRemark.CURVATURE: "curvature of the penalised likelihood; {told}",
    LooseningRemark.PENALTY_SHARE: (
        "{failures:failure/failures}; {penalty_percent:.0f} % of the information is the penalty's"
    ),
    LooseningRemark.REPORTS: "{reported:failure/failures} reported unasked, {found} found by asking",
    LooseningRemark.NONE_FOUND: "no failure was found by asking",
    LooseningRemark.BY_SHAFTS: (
        "spread of whole shafts' scores, the first step of drawing shafts anew; a cross-check of the profile"
    ),
    LooseningRemark.CROSSING: _CROSSING,
    LooseningRemark.OVER_LIMIT: f"the risk within {{months:g}} months is over the limit at any gap; {_CROSSING}",
    LooseningRemark.COUNT_EXACT: (
        "{told}; sum of unequal chances (Poisson-binomial), averaged over draws of the model's parameters"
    ),
    LooseningRemark.COUNT_NORMAL: (
        "{told}; sum of very many unequal chances, normal in every draw of the model's parameters"
    ),
    LooseningRemark.COST: (
        "price of a failure for each that becomes known; drawn from the chances and the model's parameters"
    ),
    LooseningRemark.CHOICE_FEW: (
        "{fittings:fitting has/fittings have} a shaft that was measured once more without a hub in "
        "between; {fewest} are needed"
    ),
    LooseningRemark.CHOICE: "least squares on the readings in hand, pattern, method and period, HC3 errors",
    LooseningRemark.SENDERS: (
        "sizes sent, against what another reading taken before the hub ran, and not for trouble, said of {shafts} "
        "shafts; half of the weight beforehand is on nothing"
    ),
    LooseningRemark.RATIO: "fitted model, within {months:g} months, at {far_um:.0f} um against {near_um:.0f} um",
    LooseningRemark.HELD_BACK: (
        "log likelihood of what was held back, with the gap less without; {groups} groups of shafts"
    ),
    LooseningRemark.SAME_GAP: (
        "fitted model, both ways at each of {fittings} gaps from {low_um:.0f} to {high_um:.0f} um where both occur"
    ),
    LooseningRemark.WITHOUT_GAP: "the same model without the gap, on the same fittings",
    LooseningRemark.WAYS_FEW: "fewer than {fewest} fittings of one of the two ways have a known gap",
    LooseningRemark.WAYS_APART: (
        "the two ways left gaps that hardly overlap: nothing is known of both at the same gap"
    ),
    LooseningRemark.THROUGH_GAP: "one less the difference at the same gap by the whole difference",
    LooseningRemark.THROUGH_NOT_TOLD: "the whole difference may be nothing, so no share of it can be told",
    LooseningStudyRemark.COMPARED: (
        "{groupings} groupings were compared; the adjusted probabilities allow for that (Holm). "
        "Each curve's band holds month by month, not for the curve as a whole."
    ),
    LooseningStudyRemark.FEW_FAILURES: "failures with a known gap on record: {failures}; {fewest} are needed",
    LooseningStudyRemark.OVER_RECORD: (
        "Weibull model on the gap as known on the day of choice, averaged over the fittings on record"
    ),
    LooseningStudyRemark.EFFECT: "curvature of the penalised likelihood; log hazard ratio",
    LooseningStudyRemark.GAP_BEYOND_RECORD: "beyond the record, which holds gaps up to {largest_um:.0f} um",
    LooseningStudyRemark.TIME_BEYOND_RECORD: "beyond the record, which holds so long a time",
    LooseningVerdict.UP_TO: _up_to,
    LooseningVerdict.AT_EVERY_GAP: _at_every_gap,
    LooseningVerdict.OVER_AT_ANY: lambda limit, months: f"over {in_hundred(limit)} in 100 {within(months)} at any gap",
    LooseningVerdict.OPEN_AT_NONE: (
        lambda limit, months: f"not settled whether any gap keeps it {_under(limit, months)}"
    ),
    LooseningVerdict.GAP_NOT_SHOWN: _together("no gap limit shows"),
    LooseningVerdict.BACKWARDS: _together("wider gaps no worse"),
    LooseningVerdict.WITHOUT_GAP: _together("by gap unknown"),
    LooseningVerdict.UNTOLD: (
        lambda failures, months: f"cannot be told: too few followed {span(months)}; {failures} known loose"
    ),
    LooseningStudyRemark.OF_HUB: (
        "model of working loose on the gap this hub would leave, doubt of gap and model together"
    ),
}
