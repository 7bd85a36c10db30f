"""The gauging sheet as pages to fill in and to print, and labels for hubs that were gauged."""

from __future__ import annotations

from typing import Any, Final

from wearstats.domain.tables import HUB_ENDS
from wearstats.domain.units import mm_to_um
from wearstats.report.forms import flags
from wearstats.report.forms.drawing import hub_rings
from wearstats.report.forms.form import GAUGING_LINES, GaugingForm
from wearstats.report.forms.pages import Paper, filled_in_page, form_environment, form_policy, printed_page
from wearstats.report.forms.wording import Wording
from wearstats.report.words.phrases import undersize
from wearstats.studies.forms import SheetHub

_WIDER_UM: Final = 30.0
"""How much wider than meant a space is asked after, as the store's own check has it."""
_STRAY: Final = {**flags.STRAY, "floor_um": 2.5, "early": 4.0}
"""When a space is odd among those of its hub: by a cutter, not by wear, so closer than on shafts. Judgement."""


def gauging_pages(form: GaugingForm) -> dict[str, str]:
    """Write the pages that are filled in on a phone or a desk, one a hub: name of the file to the page."""
    return {f"{one.stem}.html": _page(one) for one in form.alone()}


def gauging_paper(form: GaugingForm, *, paper: Paper) -> str:
    """Write the page that is printed and filled in by hand, with a table a hub."""
    lines = [name for name in GAUGING_LINES if name not in ("form", "hub")]
    spaces = [(hub, _meant(hub, form.wording)) for hub in form.hubs]
    return printed_page(paper, measuring=False, spaces=spaces, lines=lines, **_shared(form))


def label_page(hubs: tuple[SheetHub, ...], wording: Wording, *, paper: Paper) -> str:
    """Write labels to print and cut out: number, pattern, undersize as engraved, mean of the spaces, day."""
    environment, part = form_environment(), wording["labels"]
    style = environment.get_template("labels.css").render(paper=paper)
    labels = [
        {
            "hub": hub.hub,
            "pattern": hub.pattern.pattern,
            "size": part["size"].format(undersize=undersize(hub.undersize_um)),
            "mean": part["mean"].format(mean=f"{hub.space_mm:.4f}"),
            "day": part["day"].format(day=hub.gauged_on, doubt=f"{hub.doubt_um:.1f}"),
        }
        for hub in hubs
    ]
    text: str = environment.get_template("labels.html").render(
        part=part, language=wording.language, labels=labels, style=style, policy=form_policy(style)
    )
    return text


def _page(form: GaugingForm) -> str:
    shown = _shared(form)
    part = dict(shown["part"])
    part["meant"] = part["meant"].format(nominal=f"{form.hubs[0].nominal_mm:.3f}")
    return filled_in_page(
        "gauging.html", _setup(form), needed=("gauged_on", "reads"), decimal=(), **{**shown, "part": part}
    )


def _shared(form: GaugingForm) -> dict[str, Any]:
    """Give what both pages show."""
    wording, part = form.wording, form.wording["gauging"]
    hub = form.hubs[0]
    blank: list[None] = [None] * hub.pattern.splines
    ring = hub_rings(hub.pattern.splines, blank, blank, wording, label=part["ring_caption"])
    words = {
        **wording.words,
        "common": {**wording["common"], "cautions": part["cautions"], "print_note": part["print_note"]},
        "choices": {**wording["choices"], "reads": _in_mm(wording)},
        "fields": {**wording["fields"], "remark": {**wording["fields"]["remark"], "hint": part["remark"]}},
        "save": {**wording["save"], **part["save"]},
    }
    named = hub.hub if len(form.hubs) == 1 else form.batch
    return {
        "form": form,
        "w": words,
        "language": wording.language,
        "part": part,
        "title": " ".join(filter(None, (part["title"], named, hub.pattern.pattern))),
        "steps": part["steps"],
        "drawings": [(ring, part["ring_caption"])],
        "cautions": wording["safety"]["gauging"],
    }


def _in_mm(wording: Wording) -> dict[str, str]:
    """Give the steps of gauges that show millimetres: the widths of hubs are kept in these alone."""
    return {word: meaning for word, meaning in wording.choices("reads").items() if word.startswith("mm ")}


def _meant(hub: SheetHub, wording: Wording) -> str:
    facts = {"undersize": undersize(hub.undersize_um), "nominal": f"{hub.nominal_mm:.3f}"}
    return str(wording["gauging"]["of"].format(pattern=hub.pattern.pattern, **facts))


def _setup(form: GaugingForm) -> dict[str, Any]:
    """Give what the script must know."""
    wording, hub = form.wording, form.hubs[0]
    part = wording["gauging"]
    return {
        "form": form.form,
        "stem": form.stem,
        "um_per": {"mm": 1000.0, "in": 25400.0},
        "share": flags.SHARE,
        "units": wording["units"],
        "words": {**wording["flags"], **wording["save"], **part["words"], **part["save"]},
        "table": "hub_spaces",
        "lines": [line for line in GAUGING_LINES if line != "form"],
        "needed": ["gauged_on", "reads"],
        "row": "space",
        "hub": hub.hub,
        "stations": HUB_ENDS,
        "new_um": mm_to_um(hub.nominal_mm),
        "worn_um": 0.0,
        "above_um": _WIDER_UM,
        "turn_um": flags.TURN_UM,
        "rule": _STRAY,
    }
