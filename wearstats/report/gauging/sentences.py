"""How far the measurements can be trusted, and what to ask an owner for, in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import UNKNOWN, count, day, in_hundred, sentence

if TYPE_CHECKING:
    from wearstats.analysis.estimate import Estimate
    from wearstats.analysis.gauging.measurement_plan import PlanQuality
    from wearstats.analysis.gauging.quality import ClassQuality
    from wearstats.studies.gauging.study import GaugingStudy

_WHERE = {"home": "At home", "workshop": "In the workshop", "caliper": "With a caliper"}
_MINUS = "\u2212"


def gauging_sentences(study: GaugingStudy) -> list[str]:
    """Answer the question: how good each kind of measuring is, and what is worth asking for."""
    total = sum(quality.inspections for quality in study.by_class.values())
    return [
        sentence(
            f"Up to {day(study.as_of)}, {count(total, 'inspection')} tell how well shafts are measured; the mean of "
            "the workshop's own counts as true, for nothing here could tell it from the truth (25.4 µm are 0.001 in)"
        ),
        *_sampled(study),
        *(" ".join(_quality(kind, quality)) for kind, quality in study.by_class.items() if quality.inspections),
        _against_decision(study.grr_percent),
        *_gauge_study(study),
        *_strays(study),
        *plan_sentences(study),
    ]


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
    parts = [f"{_WHERE[kind]} ({count(quality.inspections, 'inspection')})"]
    if kind != "workshop":
        parts[0] += f" widths are read {_signed(quality.bias_um)} on average"
        parts.append("Each inspection has besides")
    else:
        parts[0] += " each inspection has"
    parts[-1] += (
        f" an error of its own that all its readings share: {_microns(quality.bias_sd_um)} as one standard deviation"
    )
    left = f"A check piece measured along with the shaft leaves {_microns(quality.bias_sd_with_check_piece_um)} of it"
    scatter = f"Single readings scatter by {_microns(quality.repeatability_um)}"
    return [sentence(part) for part in (*parts, left, scatter)]


def _against_decision(grr: Estimate) -> str:
    if grr.value is None:
        return sentence(f"How a single home reading compares with the thou it has to decide {UNKNOWN}")
    verdict = "good" if grr.value < 10 else "usable with care" if grr.value <= 30 else "poor"
    return sentence(
        f"Six standard deviations of a single home reading are {grr.value:.0f} % of the 25.4 µm that have to be told "
        f"apart; gauge studies call under 10 % good and over 30 % poor, so one reading alone is {verdict}"
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
    plans = study.plans
    plain = [quality for quality in plans if _is_single(quality) and not quality.plan.check_piece]
    whole = max(plain, key=lambda quality: (quality.plan.splines, quality.plan.stations))
    rivals = [
        ("every place read twice", _beside(whole, plans, trials=2)),
        ("a second inspection by the same hand", _beside(whole, plans, inspections=2)),
        ("a second inspection by another hand", _beside(whole, plans, inspections=2, same_measurer=False)),
        ("a check piece measured first", _beside(whole, plans, check_piece=True)),
    ]
    told = [(words, quality) for words, quality in rivals if quality is not None]
    return [
        sentence(
            f"An owner who measures {_places(whole)} of a {study.plan_pattern} once tells its mean width to "
            f"{whole.width_u_um:.1f} µm, and {_right(whole)} shafts get the right one of sizes "
            f"{study.size_step_um:g} µm apart"
        ),
        sentence("It becomes with " + "; with ".join(f"{words} {_right(quality)}" for words, quality in told)),
        _enough(whole, plain),
        _ask(whole, told, plans),
        *_hidden_hollow(whole, plain),
    ]


def _enough(whole: PlanQuality, plain: list[PlanQuality]) -> str:
    """Say from where on more places do not help."""
    slack = 2 * whole.right_size_se
    enough = [q for q in plain if q.right_size_probability >= whole.right_size_probability - slack]
    least = min(enough, key=lambda quality: quality.plan.splines * quality.plan.stations)
    if least.plan == whole.plan:
        return sentence("Every place left out costs something")
    return sentence(
        f"More places stop helping early: {_places(least)} do about as well, {_right(least)}, for what is left is the "
        "error that all readings share"
    )


def _ask(whole: PlanQuality, told: list[tuple[str, PlanQuality]], plans: tuple[PlanQuality, ...]) -> str:
    words, best = max(told, key=lambda pair: pair[1].right_size_probability)
    if best.right_size_probability - whole.right_size_probability <= 2 * best.right_size_se:
        return sentence("So one such inspection is enough to ask for")
    # a piece in the post is cheaper than a second person: it comes first where it does as well
    piece = _beside(whole, plans, check_piece=True)
    if piece is not None and piece.right_size_probability >= best.right_size_probability - 2 * best.right_size_se:
        words = "a check piece measured first"
    ask = f"So ask for {words}"
    few = [q for q in plans if _is_single(q) and q.plan.check_piece and q.plan.stations == whole.plan.stations]
    few = [q for q in few if q.right_size_probability >= whole.right_size_probability + 2 * whole.right_size_se]
    few = [q for q in few if q.plan.splines < whole.plan.splines]
    if words.startswith("a check piece") and few:
        least = min(few, key=lambda quality: quality.plan.splines * quality.plan.stations)
        ask += f": {_places(least)} with it are worth more than {_places(whole)} without"
        ask += f" ({_right(least)} against {_right(whole)})"
    return sentence(ask)


def _hidden_hollow(whole: PlanQuality, plain: list[PlanQuality]) -> list[str]:
    ends = [q for q in plain if q.plan.splines == whole.plan.splines and q.plan.stations == 2]
    if whole.plan.stations < 3 or not ends:
        return []
    return [
        sentence(
            f"But measure the middle too: from the ends alone the depth of a hollow is known no better than "
            f"{ends[0].hollow_u_um:.1f} µm, with the middle {whole.hollow_u_um:.1f} µm, and no hub cures a hollow"
        )
    ]


def _is_single(quality: PlanQuality) -> bool:
    return quality.plan.inspections == 1 and quality.plan.trials == 1


def _beside(whole: PlanQuality, plans: tuple[PlanQuality, ...], **changed: Any) -> PlanQuality | None:
    """Find the plan that differs from another in what is given."""
    wanted = replace(whole.plan, **changed)
    return next((quality for quality in plans if quality.plan == wanted), None)


def _places(quality: PlanQuality) -> str:
    return f"{count(quality.plan.splines, 'spline')} at {count(quality.plan.stations, 'station')}"


def _right(quality: PlanQuality) -> str:
    return f"{in_hundred(quality.right_size_probability)} in 100"


def _signed(estimate: Estimate) -> str:
    if estimate.value is None:
        return f"with a bias that {UNKNOWN},"
    way = "too large" if estimate.value >= 0 else "too small"
    text = f"{abs(estimate.value):.1f} µm {way}"
    if estimate.low is None or estimate.high is None:
        return text
    low, high = (f"{value:.1f}".replace("-", _MINUS) for value in (estimate.low, estimate.high))
    how = "assumed" if estimate.status == "assumed" else "95 % sure"
    return f"{text} (between {low} and {high}, {how})"


def _microns(estimate: Estimate) -> str:
    if estimate.value is None:
        return f"an amount that {UNKNOWN}"
    text = f"{estimate.value:.1f} µm"
    if estimate.low is None or estimate.high is None:
        return f"{text} (assumed, these data cannot tell)" if estimate.status == "assumed" else text
    how = "partly assumed" if estimate.status == "assumed" else "95 % sure"
    return f"{text} (between {estimate.low:.1f} and {estimate.high:.1f}, {how})"
