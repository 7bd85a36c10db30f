"""How far the measurements can be trusted, and what to ask an owner for, in words."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE
from wearstats.report.words.phrases import UNKNOWN, bracket, count, day, in_hundred, sentence, sure_microns, two_figures
from wearstats.studies.gauging.remarks import GaugingVerdict
from wearstats.studies.gauging.verdict import SURELY, is_single

if TYPE_CHECKING:
    from wearstats.analysis.estimate import Estimate
    from wearstats.analysis.gauging.measurement_plan import PlanQuality
    from wearstats.analysis.gauging.quality import ClassQuality
    from wearstats.studies.gauging.study import GaugingStudy

_WAYS: Final[Mapping[str, str]] = {
    GaugingVerdict.READ_TWICE: "every place read twice",
    GaugingVerdict.SAME_HAND: "a second inspection by the same hand",
    GaugingVerdict.OTHER_HAND: "a second inspection by another hand",
    GaugingVerdict.CHECK_PIECE: "a check piece measured first",
}
_WHERE = {"home": "At home", "workshop": "In the workshop", "caliper": "With a caliper"}


def gauging_sentences(study: GaugingStudy) -> list[str]:
    """Answer the question: how good each kind of measuring is, and what is worth asking for."""
    total = sum(quality.inspections for quality in study.by_class.values())
    return [
        sentence(
            f"This rests on {count(total, 'inspection')} up to {day(study.as_of)}; the mean of the workshop's own "
            "counts as true, for nothing here could tell it from the truth"
        ),
        *_sampled(study),
        *(" ".join(_quality(kind, quality)) for kind, quality in study.by_class.items() if quality.inspections),
        _against_decision(study.grr_percent),
        *_gauge_study(study),
        *_strays(study),
        *_pieces_out(study),
        *plan_sentences(study),
        SURE,
    ]


def _pieces_out(study: GaugingStudy) -> list[str]:
    """Say who has which check piece, and since and until when."""
    told = []
    for row in study.pieces_out.to_dict("records"):
        shaft, owner = (None if pd.isna(row[name]) else str(row[name]) for name in ("shaft", "owner"))
        who = owner if shaft is None else f"the owner of {shaft}" + (f" ({owner})" if owner else "")
        since = f"Check piece {row['piece']} has been with {who or 'nobody named'} since {day(_date(row['sent_on']))}"
        if pd.isna(row["back_by"]):
            told.append(sentence(f"{since}; no day is set by which it is to be back"))
        elif row["overdue"]:
            told.append(sentence(f"{since} and was to be back by {day(_date(row['back_by']))}: ask for it"))
        else:
            told.append(sentence(f"{since} and is to be back by {day(_date(row['back_by']))}"))
    return told


def _date(value: Any) -> datetime.date:
    return pd.Timestamp(value).date()


def _sampled(study: GaugingStudy) -> list[str]:
    """Say that all this rests on some of the shafts, where there are very many."""
    if study.from_shafts is None or study.of_shafts is None:
        return []
    return [
        sentence(
            f"All this, and the list of readings that hardly belong, rests on {count(study.from_shafts, 'shaft')} "
            f"taken at random, the same ones each time, of {count(study.of_shafts, 'shaft')} inspected"
        )
    ]


def _quality(kind: str, quality: ClassQuality) -> list[str]:
    """Say mean bias, shared error, what a check piece leaves of it, and scatter."""
    where = f"{_WHERE[kind]} ({count(quality.inspections, 'inspection')})"
    own, left = quality.bias_sd_um, quality.bias_sd_with_check_piece_um
    parts = [] if kind == "workshop" else [f"{where} widths are read {_signed(quality.bias_um)} on average"]
    begins = "each inspection has besides" if parts else f"{where} each inspection has"
    if own.value is None:
        parts.append(f"{begins} an error of its own that all its readings share; how large, {UNKNOWN}")
    else:
        parts.append(
            f"{begins} an error of its own that all its readings share: {_microns(own)} as one standard deviation"
        )
        parts.append(f"a check piece measured along with the shaft leaves {_microns(left)} of it")
    return [sentence(part) for part in (*parts, f"single readings scatter by {_microns(quality.repeatability_um)}")]


def _against_decision(grr: Estimate) -> str:
    if grr.value is None:
        return sentence(f"How a single home reading compares with the thou it has to decide {UNKNOWN}")
    verdict = "good" if grr.value < 10 else "usable with care" if grr.value <= 30 else "poor"
    return sentence(
        f"Six standard deviations of a single home reading are {grr.value:.0f} % of the 25.4 µm, a thou, that have to "
        f"be told apart; gauge studies call under 10 % good and over 30 % poor, so one reading alone is {verdict}"
    )


def _gauge_study(study: GaugingStudy) -> list[str]:
    """Give the figures of a gauge study, with the method they hang on."""
    lines = []
    figures = study.figures.get("home")
    if figures is not None and figures.grr_percent_of_study.value is not None and study.by_class["home"].inspections:
        lines.append(
            sentence(
                f"As a gauge study has it, by variance components: %GRR {figures.grr_percent_of_study.value:.0f} % of "
                f"the whole spread at home, {_classes(figures.ndc)} told apart (five are wanted)"
            )
        )
    found = study.gauge_study
    if found is not None and found.grr_percent_of_study.value is not None:
        lines.append(
            sentence(
                f"By mean squares, from {count(found.parts, 'place')} of shafts that two owners measured: %GRR "
                f"{found.grr_percent_of_study.value:.0f} %, {_classes(found.ndc)}; the method matters, on the same data"
            )
        )
    return lines


def _classes(ndc: int | None) -> str:
    return "no classes" if ndc is None else count(ndc, "class", "classes")


def _strays(study: GaugingStudy) -> list[str]:
    strays = study.strays
    if strays.empty:
        return [sentence("No reading stands out as one that cannot belong")]
    inspections = strays["inspection"].nunique()
    return [
        sentence(
            f"Of all readings {count(len(strays), 'finding')} in {count(inspections, 'inspection')} can hardly belong "
            "where it stands; what is found is listed to be asked about, and none is left out. First: inspection "
            f"{strays['inspection'].iloc[0]}, {say(strays['why'].iloc[0])}"
        )
    ]


def plan_sentences(study: GaugingStudy) -> list[str]:
    """Say what to ask an owner for, whatever the numbers turn out to be."""
    ways = study.ways
    whole = ways.whole
    plain = [quality for quality in study.plans if is_single(quality) and not quality.plan.check_piece]
    told = [f"{_WAYS[code]} {_right(quality)}" for code, quality in ways.rivals.items()]
    return [
        sentence(
            f"An owner who measures {places(whole)} of a {study.plan_pattern} once knows its mean width to "
            f"{two_figures(whole.width_u_um)} µm, and {_right(whole)} shafts get the right one of sizes "
            f"{study.size_step_um:g} µm apart"
        ),
        *([sentence("It becomes with " + "; with ".join(told))] if told else []),
        _enough(whole, plain),
        _ask(study),
        *_hidden_hollow(whole, plain),
    ]


def _enough(whole: PlanQuality, plain: list[PlanQuality]) -> str:
    """Say from where on more places do not help."""
    slack = SURELY * whole.right_size_se
    enough = [q for q in plain if q.right_size_probability >= whole.right_size_probability - slack]
    least = min(enough, key=lambda quality: quality.plan.splines * quality.plan.stations)
    if least.plan == whole.plan:
        return sentence("Every place left out costs something")
    return sentence(
        f"More places stop helping early: {places(least)} do about as well, {_right(least)}, for what is left is the "
        "error that all readings share"
    )


def _ask(study: GaugingStudy) -> str:
    code, ways = study.verdict.code, study.ways
    if code == GaugingVerdict.ENOUGH:
        return sentence("So one such inspection is enough to ask for")
    ask, few = f"So ask for {_WAYS[code]}", ways.few_with_piece
    if code == GaugingVerdict.CHECK_PIECE and few is not None:
        ask += f": {places(few)} with it are worth more than {places(ways.whole)} without"
        ask += f" ({_right(few)} against {_right(ways.whole)})"
    return sentence(ask)


def _hidden_hollow(whole: PlanQuality, plain: list[PlanQuality]) -> list[str]:
    ends = [q for q in plain if q.plan.splines == whole.plan.splines and q.plan.stations == 2]
    if whole.plan.stations < 3 or not ends:
        return []
    return [
        sentence(
            "But measure the middle too: from the ends alone the depth of a hollow is known no better than "
            f"{two_figures(ends[0].hollow_u_um)} µm, with the middle {two_figures(whole.hollow_u_um)} µm, and no hub "
            "cures a hollow"
        )
    ]


def places(quality: PlanQuality) -> str:
    """Say how many places a way of measuring reads."""
    return f"{count(quality.plan.splines, 'spline')} at {count(quality.plan.stations, 'station')}"


def _right(quality: PlanQuality) -> str:
    return f"{in_hundred(quality.right_size_probability)} in 100"


def _signed(estimate: Estimate) -> str:
    """Say a bias: what is read too large counts above nothing."""
    if estimate.value is None:
        return f"with a bias that {UNKNOWN},"
    if estimate.value == 0:
        return f"without a known bias{bracket(estimate, two_figures)}"
    way = "too large" if estimate.value > 0 else "too small"
    # of what is read too small the ends are turned round too
    low, high = estimate.low, estimate.high
    if estimate.value < 0:
        low, high = (None if end is None else -end for end in (high, low))
    size = replace(estimate, value=abs(estimate.value), low=low, high=high)
    return f"{two_figures(abs(estimate.value))} µm {way}{bracket(size, two_figures)}"


def _microns(estimate: Estimate) -> str:
    return f"an amount that {UNKNOWN}" if estimate.value is None else sure_microns(estimate)
