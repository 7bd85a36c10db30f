"""The fitting sheet: which splines should bind first, a grid to tick, when to stop, and what to write down."""

from __future__ import annotations

from typing import Any, Final

from wearstats.analysis.advice.options import GRIPPED
from wearstats.domain.units import print_um, um_to_mm
from wearstats.report.forms.drawing import shaft_end
from wearstats.report.forms.pages import Paper, form_environment, form_policy
from wearstats.report.forms.wording import Wording
from wearstats.report.remarks.say import say
from wearstats.report.rendering.write_files import file_stem
from wearstats.report.shaft.sentences import advice_words
from wearstats.report.words.cautions import CAUTIONS
from wearstats.studies.shaft.fitting_sheet import BindingSpline, FittingSheet

LINES: Final = (
    "fitted_on", "method", "went_on", "pulled_mm", "seated", "drive_marked", "coast_marked", "play_um", "filing_min",
    "compound",
)  # fmt: skip
"""What is written down: columns of the table of fittings."""


def fitting_page(sheet: FittingSheet, wording: Wording, *, paper: Paper) -> str:
    """Write the fitting sheet of one hub on one shaft, to print on that paper; without any script."""
    environment = form_environment()
    style = environment.get_template("print.css").render(paper=paper)
    text: str = environment.get_template("fitting.html").render(
        policy=form_policy(style),
        style=style,
        w=wording.words,
        drawing=shaft_end(sheet.pattern, wording),
        **fitting_content(sheet, wording),
    )
    return text


def fitting_content(sheet: FittingSheet, wording: Wording) -> dict[str, Any]:
    """Give the sheet's words as plain data, for whatever it is set with."""
    part, fields = wording["fitting"], wording["fields"]
    subject = part["of_shaft"].format(shaft=sheet.shaft, hub=sheet.hub, undersize=print_um(sheet.undersize_um))
    return {
        "language": wording.language,
        "part": part,
        "title": f"{part['title']}, {subject}",
        "subject": subject,
        "sentences": fitting_sentences(sheet, wording),
        "steps": _steps(sheet, wording),
        "ends": [wording.station(sheet.pattern.stations[at]) for at in (0, -1)],
        "rows": [_row(item, wording) for item in sheet.splines],
        "lines": [fields[name] for name in LINES],
        "cautions": list(CAUTIONS),
    }


def fitting_stem(sheet: FittingSheet) -> str:
    """Name its files, without ending."""
    return file_stem("fitting", sheet.shaft, sheet.hub)


def fitting_sentences(sheet: FittingSheet, wording: Wording) -> list[str]:
    """Say what the readings lead to expect, in a workshop's words."""
    part = wording["fitting"]
    bound = sorted((item for item in sheet.splines if item.order is not None), key=lambda item: item.order or 0)
    sentences = []
    if not sheet.as_advised:
        sentences.append(part["not_advised"].format(do=advice_words(sheet.advice), why=say(sheet.advice.because[0])))
    if sheet.on_other is not None:
        sentences.append(part["on_other"].format(shaft=sheet.on_other))
    if not bound:
        sentences.append(part["free"])
    else:
        words = part["first" if len(bound) > 1 else "first_only"]
        following = bound[1].spline if len(bound) > 1 else None
        station = wording.station(bound[0].station)
        off = sheet.mean_off_um
        sentences += [
            words.format(spline=bound[0].spline, station=station, next=following),
            part["off"].format(value=_size(off.value), low=_size(off.low), high=_size(off.high)),
        ]
    if not sheet.gauged:
        sentences.append(part["not_gauged"])
    return [*sentences, part["marks"]]


def _steps(sheet: FittingSheet, wording: Wording) -> list[str]:
    part = wording["fitting"]
    pull_on = sheet.pattern.pull_on_mm
    facts = {
        "pull": "" if pull_on is None else part["pull"].format(mm=f"{pull_on:g}"),
        "share": f"{100 * GRIPPED:.0f}",
    }
    return [step.format(**facts) for step in part["steps"]]


def _row(item: BindingSpline, wording: Wording) -> dict[str, Any]:
    """Write one spline's row; the marked one bears its dot."""
    name = f"{item.spline} ●" if item.spline == 1 else f"{item.spline}"
    if item.order is None:
        return {"spline": name, "order": wording["fitting"]["none"], "at": "", "off": ""}
    off = item.off_um
    told = wording["fitting"]["range"].format(value=_mm(off.value), low=_mm(off.low), high=_mm(off.high))
    return {"spline": name, "order": f"{item.order}", "at": wording.station(item.station), "off": told}


def _mm(um: float | None) -> str:
    return f"{um_to_mm(um or 0.0):.3f}"


def _size(um: float | None) -> str:
    return print_um(um or 0.0, decimals=3)
