"""The fitting sheet: what is advised, where the hub jams, what has to come off, when to stop, what to write down."""

from __future__ import annotations

from typing import Any, Final

from wearstats.analysis.register.remarks import BoreRemark
from wearstats.domain.units import from_um, print_um
from wearstats.report.forms.drawing import hub_rings
from wearstats.report.forms.pages import Paper, form_environment, form_policy
from wearstats.report.forms.wording import Wording
from wearstats.report.remarks.say import say
from wearstats.report.rendering.write_files import file_stem
from wearstats.report.shaft.sentences import headline
from wearstats.report.words.cautions import CAUTIONS
from wearstats.report.words.phrases import sentence
from wearstats.studies.shaft.fitting_sheet import BindingSpline, FittingSheet

LINES: Final = (
    "fitted_on", "method", "went_on", "pulled_mm", "seated", "drive_marked", "coast_marked", "play_um", "filing_min",
    "compound",
)  # fmt: skip
"""What is written down: columns of the table of fittings."""
_NOTHING_TO_DO: Final = {BoreRemark.GOES_OVER, BoreRemark.TURN_TO}
_NAMED: Final = 4
"""So many splines are named where several are alike."""


def fitting_page(sheet: FittingSheet, wording: Wording, *, paper: Paper) -> str:
    """Write the fitting sheet of one hub on one shaft, to print on that paper; without any script."""
    environment = form_environment()
    style = environment.get_template("print.css").render(paper=paper)
    text: str = environment.get_template("fitting.html").render(
        policy=form_policy(style),
        style=style,
        w=wording.words,
        drawing=fitting_drawing(sheet, wording),
        **fitting_content(sheet, wording),
    )
    return text


def fitting_drawing(sheet: FittingSheet, wording: Wording) -> str:
    """Draw the hub's spaces, those that are alike in one shade."""
    ranks = [_rank(item, sheet) for item in sheet.splines]
    last = max((rank for rank in ranks if rank is not None), default=1)
    # in even steps of rank: depths that differ little could not be told apart by their shade
    shares = [None if rank is None else 1 - (rank - 1) / last for rank in ranks]
    return hub_rings(sheet.pattern.splines, shares, ranks, wording)


def fitting_content(sheet: FittingSheet, wording: Wording) -> dict[str, Any]:
    """Give the sheet's words as plain data, for whatever it is set with; no work where nothing may be fitted."""
    part = wording["fitting"]
    subject = part["of_shaft"].format(shaft=sheet.shaft, hub=sheet.hub, undersize=print_um(sheet.undersize_um))
    stations = [wording.station(name) for name in sheet.pattern.stations]
    places = list(stations)
    if len(places) > 1:
        places[0] = part["mouth_end"].format(station=places[0])
        places[-1] = part["nut_face_end"].format(station=places[-1])
    return {
        "language": wording.language,
        "part": part,
        "title": f"{part['title']}, {subject}",
        "subject": subject,
        "advised": sentence(headline(sheet.advice)),
        "work": not sheet.no_work,
        "sentences": fitting_sentences(sheet, wording),
        "steps": [] if sheet.no_work else _steps(sheet, wording),
        "places": places,
        "off_head": part["off_head"].format(unit=sheet.unit),
        "ends": [stations[0], stations[-1]],
        "rows": [] if sheet.no_work else [_row(item, sheet, wording) for item in sheet.splines],
        "lines": [] if sheet.no_work else _lines(sheet, wording),
        "cautions": list(CAUTIONS),
    }


def fitting_stem(sheet: FittingSheet) -> str:
    """Name its files, without ending."""
    return file_stem("fitting", sheet.shaft, sheet.hub)


def fitting_sentences(sheet: FittingSheet, wording: Wording) -> list[str]:
    """Say what the readings lead to expect, in a workshop's words."""
    part = wording["fitting"]
    if sheet.no_work:
        return [part["no_work"]]
    sentences = [part["afterwards"]] if sheet.advice.first is not None else []
    if not sheet.as_advised:
        sentences.append(part["not_advised"])
    if sheet.gauged:
        meant = sheet.pattern.space_um(sheet.undersize_um)
        sentences.append(part["gauged"].format(gauged=_width(sheet.space_um, sheet), meant=_width(meant, sheet)))
    if sheet.on_other is not None:
        sentences.append(part["on_other"].format(shaft=sheet.on_other))
    if sheet.jams_at is None:
        sentences.append(part["free"])
    else:
        station, off = wording.station(sheet.jams_at), sheet.mean_off_um
        value, low, high = (_size(um, sheet) for um in (off.value, off.low, off.high))
        sentences += [
            part["jams"].format(station=station, splines=_named(sheet.jams_on, part)),
            part["off" if _number(off.value, sheet).strip("0.") else "hardly"].format(value=value, low=low, high=high),
            part["doubt"].format(doubt=_size(sheet.doubt_um, sheet)),
        ]
    if not sheet.gauged:
        sentences.append(part["not_gauged"])
    return [*sentences, part["marks"], *(sentence(say(told)) for told in sheet.bore if told.code not in _NOTHING_TO_DO)]


def _named(splines: tuple[int, ...], part: dict[str, Any]) -> str:
    if len(splines) == 1:
        return str(part["spline_one"].format(spline=splines[0]))
    listed = ", ".join(map(str, splines[:_NAMED]))
    if len(splines) > _NAMED:
        listed = part["and_more"].format(splines=listed)
    return str(part["spline_several"].format(splines=listed))


def _steps(sheet: FittingSheet, wording: Wording) -> list[str]:
    part = wording["fitting"]
    pull_on = sheet.pattern.pull_on_mm
    facts = {
        "pull": "" if pull_on is None else part["pull"].format(mm=f"{pull_on:g}"),
        "marks": sheet.marks,
        "sides": sheet.pattern.flanks,
    }
    return [step.format(**facts) for step in part["steps"]]


def _lines(sheet: FittingSheet, wording: Wording) -> list[dict[str, str]]:
    facts = {"radius": f"{sheet.pattern.mean_radius_mm:.4g}"}
    return [{name: text.format(**facts) for name, text in wording["fields"][line].items()} for line in LINES]


def _rank(item: BindingSpline, sheet: FittingSheet) -> int | None:
    """Give a spline's number, none where nothing that could be printed has to come off."""
    return item.rank if any(_number(off.value, sheet).strip("0.") for off in item.off_um) else None


def _row(item: BindingSpline, sheet: FittingSheet, wording: Wording) -> dict[str, Any]:
    """Write one spline's row; the marked one bears its dot."""
    name = f"{item.spline} ●" if item.spline == 1 else f"{item.spline}"
    rank = _rank(item, sheet)
    # what would be printed as nothing says so: it must not be taken for a size to file to
    sizes = [_number(off.value, sheet) for off in item.off_um]
    return {
        "spline": name,
        "rank": wording["fitting"]["none"] if rank is None else f"{rank}",
        "off": [size if size.strip("0.") else wording["fitting"]["nothing"] for size in sizes],
    }


def _number(um: float | None, sheet: FittingSheet) -> str:
    """Write a difference in the owner's unit, to a micrometre or a ten-thousandth of an inch."""
    return f"{from_um(um or 0.0, sheet.unit):.{3 if sheet.unit == 'mm' else 4}f}"


def _width(um: float, sheet: FittingSheet) -> str:
    """Give a width that is told from the new spline's."""
    return _size(1000 * sheet.pattern.width_mm + um, sheet)


def _size(um: float | None, sheet: FittingSheet) -> str:
    return f"{_number(um, sheet)} {sheet.unit}"
