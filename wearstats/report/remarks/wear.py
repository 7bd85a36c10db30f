"""What is remarked of wear, its growth, and the gaps that hubs leave."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.remarks import GapRemark
from wearstats.analysis.growth.remarks import GrowthRemark
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.report.words.phrases import bracket, count, in_hundred, sure_number, two_figures
from wearstats.studies.gaps.remarks import ContactVerdict, FittingVerdict, SlackRemark
from wearstats.studies.inputs.remarks import RecordRemark
from wearstats.studies.wear.remarks import WearStudyRemark, WearVerdict

_TELLING = "the widths of some shafts known to be new would tell"
_BY_RATE = "from its last look on, by its own rate as far as known, with the errors of rate and width"

_SPREADS = {
    "shaft": "shafts of one pattern and duty",
    "spline": "the splines of a shaft",
    "shaft_station": "its own hollow or taper",
    "cell": "single places",
    "measurer": "the hand with its gauge {at}",
    "inspection": "the occasion {at}",
    "repeatability": "a reading taken again {at}",
}
_AT = {"home": "at home", "workshop": "in the workshop", "caliper": "with calipers"}


def _assumed(*, shafts: int, **spreads: float) -> str:
    parts = []
    for name, um in spreads.items():
        part, _, kind = name.rpartition("_")
        words = _SPREADS[name] if name in _SPREADS else _SPREADS[part].format(at=_AT[kind])
        parts.append(f"{words} {two_figures(um)} µm")
    return (
        f"with only {count(shafts, 'shaft')} on record these spreads rest more on assumptions than on readings, as one "
        f"standard deviation: {', '.join(parts)}; any of them may be half or twice that, and how sure a shaft's width "
        "is rests on them"
    )


def _lost(tail: Callable[..., str]) -> Callable[..., str]:
    """Say the mean with its interval, and something behind it."""

    def said(*, mean_um: float, low_um: float | None, high_um: float | None, **more: float) -> str:
        mean = Estimate(value=mean_um, low=low_um, high=high_um)
        return f"{two_figures(mean_um)} µm lost on average{bracket(mean, two_figures)}; {tail(**more)}"

    return said


def _wider(*, mean_um: float, low_um: float | None, high_um: float | None) -> str:
    wider = Estimate(
        value=-mean_um, low=None if high_um is None else -high_um, high=None if low_um is None else -low_um
    )
    return f"no wear: {two_figures(-mean_um)} µm wider than new{bracket(wider, two_figures)}"


WEAR: Final[Mapping[str, str | Callable[..., str]]] = {
    SlackRemark.AS_EXPECTED: "{slack} of {tried} tried were found slack on trial, as many as the readings let expect",
    SlackRemark.FEWER: lambda slack, tried, expected: (
        f"only {slack} of {tried} tried were sent back slack, {sure_number(expected)} were to be expected: some that "
        "may rattle were kept on, so say on every sheet how to rock the hub, and ask"
    ),
    SlackRemark.MORE: lambda slack, tried, expected: (
        f"{slack} of {tried} tried were found slack, {sure_number(expected)} were to be expected: send tighter, and "
        "look at how hubs are gauged"
    ),
    SlackRemark.BY_READINGS: "by each hub's chance, from the readings in hand, of a smallest gap over the shake limit",
    WearRemark.UNWORN_NOT_ASKED: "the unworn share was not asked for",
    WearRemark.UNWORN_FEW_SHAFTS: "the share of unworn shafts needs readings of at least {least} shafts",
    WearRemark.UNWORN_NOT_NEW: (
        "what the readings show apart from the worn shafts lies too far from the nominal width, or spreads too much, "
        f"to be new shafts; {_TELLING}"
    ),
    WearRemark.UNWORN_NO_FAMILY: (
        "no family of wear fits these shafts (gamma, Weibull and lognormal were tried), and how many are unworn hangs "
        f"on what little wear looks like; {_TELLING}"
    ),
    WearRemark.UNWORN_NOT_TOLD: (
        "unworn shafts cannot be told from little worn ones: anything from {low_percent:.0f} to {high_percent:.0f} in "
        f"100 would fit; {_TELLING}"
    ),
    WearRemark.UNWORN_WEIGHT: "weight of the unworn in the mixture; profile likelihood over {families} wear",
    WearRemark.INTEGRATED: (
        "Bayesian: mean, spread and skewness of wear over few shafts integrated over, the spread with an exponential "
        "prior density (one in twenty over 100 µm)"
    ),
    WearRemark.AS_READ: "mean over shafts as read, t interval over shafts allowing for their skewness",
    WearRemark.FITTED_LAW: (
        "maximum likelihood, new shafts mixed with gamma, Weibull or lognormal wear (averaged by Akaike's weights), "
        "put right by the readings, their error integrated out"
    ),
    WearRemark.SHAPE_FEW_SHAFTS: (
        lambda shafts: f"too few to tell how the shape goes with wear: {count(shafts, 'shaft')}"
    ),
    WearRemark.SHAPE_ALIKE: "these shafts do not differ in wear by more than the readings' error",
    WearRemark.SHAPE_LINE: (
        "weighted least squares on wear drawn to its mean by its reliability, robust (HC3) interval"
    ),
    WearRemark.SERVED: "the spread of true losses, shafts as uneven as the width model has them",
    WearRemark.STATION_MEAN: "generalised least squares, of the most common duty before its first hub",
    GrowthRemark.WITHIN: (
        "mixed model of shafts measured again, t interval after Kenward and Roger over likely spreads of own rates"
    ),
    GrowthRemark.ACROSS: (
        "old shafts against young ones, one look each: assumes that hours alone made the wear and that all began as new"
    ),
    GrowthRemark.ACROSS_FEW: "needs the hours and the wear of at least {least} shafts",
    GrowthRemark.DUE_BY_RATE: _BY_RATE,
    GrowthRemark.DUE_OPEN_END: f"{_BY_RATE}; it may last beyond the {{record_h:.0f}} h on record",
    GrowthRemark.DUE_BEYOND_RECORD: (
        "beyond the hours on record: no shaft of this duty measured again had run more than {record_h:.0f} h"
    ),
    GrowthRemark.DUE_NO_GROWTH: "no growth is seen, so nothing says when",
    WearStudyRemark.NO_RATE: "needs at least {least} shafts measured again, with hours, after a hub had run",
    WearStudyRemark.MIDWAY: (
        "mixed model; takes hubs to have worked loose midway between the last word of them tight and the first of loose"
    ),
    WearStudyRemark.NO_LARGER_SIZE: "no larger undersize is on offer",
    WearStudyRemark.HOURS_BACKWARDS: "its hours run backwards",
    WearStudyRemark.HOURS_DIFFER: "hours differ where no hub is on record in between",
    WearStudyRemark.SPREADS_ASSUMED: _assumed,
    WearStudyRemark.NO_HOURS: "no hours",
    ContactVerdict.AS_PREDICTED: "yes, on average and from little contact to much",
    ContactVerdict.LESS_EXTREME: "on average yes; little and much contact both come out less extreme",
    ContactVerdict.MORE_EXTREME: "on average yes; little and much contact both come out more extreme",
    ContactVerdict.MORE_MARKED: lambda apart: f"no: {in_hundred(apart)} in 100 more sides marked than predicted",
    ContactVerdict.FEWER_MARKED: lambda apart: f"no: {in_hundred(apart)} in 100 fewer sides marked than predicted",
    ContactVerdict.SINGLY_WIDE: (
        lambda covered: f"on average yes; of single hubs only {in_hundred(covered)} in 100 in their range"
    ),
    ContactVerdict.UNTOLD: "cannot be told from these marks",
    FittingVerdict.AGREES: "yes: the marks agree with the widths",
    FittingVerdict.WIDTHS_OPEN: "cannot be told: the widths leave nearly everything open",
    FittingVerdict.FEWER_BUT_ENOUGH: "fewer sides marked than predicted, but enough",
    FittingVerdict.FEWER: "no: fewer sides marked than predicted",
    FittingVerdict.MORE: "no: more sides marked than predicted",
    WearVerdict.WORN: _lost(lambda one_in_ten_um: f"one in ten over {two_figures(one_in_ten_um)}"),
    WearVerdict.FEW_SHAFTS: _lost(lambda shafts: f"on {count(shafts, 'shaft')} only"),
    WearVerdict.NOT_SHOWN: _lost(lambda: "no wear shows surely"),
    WearVerdict.WIDER_THAN_NEW: _wider,
    WearVerdict.UNTOLD: lambda shafts: f"cannot be told from {count(shafts, 'shaft')}",
    RemlRemark.PLAIN: "REML",
    RemlRemark.LOG_SCALE: "REML, interval by average information on the log scale",
    RemlRemark.CURVATURE: "REML, interval by the likelihood's slope and curvature",
    RemlRemark.PROFILE: "REML, profile likelihood interval",
    RemlRemark.SATTERTHWAITE: "REML, interval by Satterthwaite's chi-square",
    RemlRemark.SUM_LOG_SCALE: "REML, sum of variances, interval by average information on the log scale",
    RemlRemark.STATED: "not identified by these readings; a stated limit",
    GapRemark.DRAWN_MAPS: "best linear prediction of the width map, geometry applied to draws",
    GapRemark.DRAWN_WIDENED: (
        "best linear prediction of the width map, geometry applied to draws; a few draws far off carry the mean, and "
        "the interval reaches to it"
    ),
    GapRemark.SHAFTS_ANEW: "shafts drawn anew",
    GapRemark.PREDICTED: "drawn widths within 5 um of the hub's spaces; what was noted at the fitting is not used",
    RecordRemark.ENDS_EARLY: (
        "the records end on {end}: of the {days:day/days} from then to {as_of} nothing is on record"
    ),
    RecordRemark.OUTCOMES_END: (
        "what became of hubs is on record up to about {end} (last word {last}); the {days:day/days} since then are not "
        "counted as days without failures. Add what came in since, or say how far it is complete: "
        "wearstats store add --complete-to DATE"
    ),
    RecordRemark.OUTCOMES_STATED_TO: (
        "what became of hubs is complete up to {end}, as stated; the {days:day/days} since then are not "
        "counted as days "
        "without failures"
    ),
    RecordRemark.REGIONS_END: (
        "what became of hubs ends earlier in some regions, and no later days of these count as days without failures: "
        "{regions}"
    ),
}
