"""What is remarked of measuring, and of readings that hardly belong where they stand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.gauging.remarks import GaugingRemark, StrayRemark
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.gauging.remarks import GaugingVerdict


def _with_slip(text: str) -> Callable[..., str]:
    """Add the slip that would explain it, where there is one."""
    return lambda slip: f"{text}; {slip}" if slip else text


def _ask_for(what: str) -> Callable[..., str]:
    """Say what to ask for, and how often the right size is sent then; where errors are assumed, that too."""

    def said(*, right: float, instead: float, assumed: bool) -> str:
        better = f"right size for {in_hundred(right)} in 100, not {in_hundred(instead)}"
        return f"ask for {what}: {better}{' (assumed)' if assumed else ''}"

    return said


def _enough(*, right: float, assumed: bool) -> str:
    assuming = " (assumed)" if assumed else ""
    return f"one whole inspection is enough: right size for {in_hundred(right)} in 100{assuming}"


GAUGING: Final[Mapping[str, str | Callable[..., str]]] = {
    GaugingRemark.ANOVA_POOLED: (
        "analysis of variance, interaction pooled, negative components zero; modified large-sample intervals"
    ),
    GaugingRemark.ANOVA_KEPT: (
        "analysis of variance, interaction kept, negative components zero; modified large-sample intervals"
    ),
    GaugingRemark.RANGES: "averages and ranges, constants from the distribution of the range; no intervals",
    GaugingRemark.PAIRS: (
        "inspections in pairs by different hands; no repeated trials, so repeatability is the place x inspection "
        "residual (with rounding and interaction); reproducibility is measurer and occasion together; parts are places"
    ),
    GaugingRemark.RATIO_ONLY: "{figures}; ratio without an interval",
    GaugingRemark.TO_WIDTH: "6 standard deviations to {width_um:g} um; {figures}",
    GaugingRemark.INTERACTION_POOLED: "counted as repeatability",
    GaugingRemark.COMPONENTS: "variance components (REML), all readings",
    GaugingRemark.SHARE_LOGIT: (
        "variance components, interval by average information on the logit of the variance share"
    ),
    GaugingRemark.ONE_READING_TO_WIDTH: (
        "6 standard deviations of a single reading to {width_um:g} um, variance components"
    ),
    GaugingRemark.NO_ERROR: "no error shows",
    GaugingRemark.WORKSHOP_ZERO: "the workshop's mean is taken as zero",
    GaugingRemark.BIAS_LEAST_SQUARES: "generalised least squares, workshop zero",
    GaugingRemark.BIAS_NOT_COMPARED: "no shafts were measured both ways; a stated limit",
    GaugingRemark.NONE_SHOWN: "the readings show none",
    GaugingRemark.NO_BIAS_SHOWN: "the readings show no bias to take out",
    GaugingRemark.CHECK_PIECE_STATED: "from biases and scatter that are stated limits",
    GaugingRemark.CHECK_PIECE: "bias given one reading of the check piece, delta method on the log scale",
    GaugingVerdict.CHECK_PIECE: _ask_for("a check piece first"),
    GaugingVerdict.OTHER_HAND: _ask_for("another hand's inspection"),
    GaugingVerdict.SAME_HAND: _ask_for("a second inspection"),
    GaugingVerdict.READ_TWICE: _ask_for("each place twice"),
    GaugingVerdict.ENOUGH: _enough,
    StrayRemark.PLACE: _with_slip(
        "this place lies far from what its spline and its station make likely, perhaps read or written wrong"
    ),
    StrayRemark.SPLINE: _with_slip(
        "all readings of this spline lie off alike: a slip in its row, or a spline worn unlike the rest"
    ),
    StrayRemark.STATIONS_EXCHANGED: "shoulder and nut end look exchanged here or in inspection {inspection}",
    StrayRemark.SPLINES_EXCHANGED: (
        "this spline looks exchanged with another here or in inspection {inspection}; the other is spline {spline}"
    ),
    StrayRemark.TAPER_TURNED: "shoulder and nut end look exchanged: the taper is the fleet's the wrong way round",
    StrayRemark.THIMBLE_TURN: "off by a whole turn of the thimble (0.5 mm)",
    StrayRemark.INCH_THIMBLE_TURN: "off by a whole turn of an inch thimble (0.025 in)",
    StrayRemark.THOUSANDTH: "off by one thousandth of an inch",
    StrayRemark.THIMBLE_LINE: "off by {off_um:g} µm, as by a thimble line misread",
    StrayRemark.DIGIT: lambda off_um: f"off by {off_um / 1000:g} mm, as by a digit misread",
    StrayRemark.DIGITS_SWAPPED: lambda off_um: f"off by {off_um / 1000:g} mm, as by two digits swapped",
}
