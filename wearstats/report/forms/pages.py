"""The forms as pages: one that checks while it is filled in, without any network, and one to print and fill in."""

from __future__ import annotations

import base64
import hashlib
from typing import Any, Final, Literal

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from wearstats.domain.units import UM_PER_UNIT, mm_to_um
from wearstats.report.forms import flags
from wearstats.report.forms.damage import damage_drawings
from wearstats.report.forms.drawing import gauge_held, shaft_end, shaft_side
from wearstats.report.forms.form import FOLLOW_UP_COLUMNS, MEASURING_LINES, FollowUpForm, MeasuringForm
from wearstats.report.forms.wording import TEMPLATES, Wording
from wearstats.report.rendering.escape import finished
from wearstats.resources import resource

Paper = Literal["A4", "letter"]
PAPERS: Final[tuple[Paper, ...]] = ("A4", "letter")

_NEEDED: Final = ("shaft", "measured_on", "measured_by", "measured_at", "kind", "reads", "seen_on", "state")
_SCRIPT: Final = ("start", "judge", "typing", "show", "save", "draft")
"""The parts of the page's one script, in order."""
_ON_PAPER: Final = tuple(line for line in MEASURING_LINES if line not in ("form", "pattern"))


def form_page(form: MeasuringForm | FollowUpForm) -> str:
    """Write the page that is filled in on a phone or a desk.

    Returns
    -------
    str
        One HTML file; its own content-security policy lets its one script and style run, by their digests, and
        nothing be fetched or sent.
    """
    measuring = isinstance(form, MeasuringForm)
    decimal = ("hours", "turn", "register", "check_piece", "check_reading")
    template = "measuring.html" if measuring else "follow-up.html"
    return filled_in_page(template, _setup(form), needed=_NEEDED, decimal=decimal, **_shared(form))


def filled_in_page(template: str, setup: dict[str, Any], **shown: Any) -> str:
    """Write a page that is filled in, with the one script that judges it by its setup."""
    environment = form_environment()
    style = environment.get_template("sheet.css").render()
    parts = (environment.get_template(f"script/{name}.js").render() for name in _SCRIPT)
    script = _shortened("\n".join(("(() => {", '"use strict";', *parts, "})();")))
    policy = form_policy(style, script)
    text: str = environment.get_template(template).render(
        style=style, script=script, policy=policy, setup=setup, **shown
    )
    return text


def print_page(form: MeasuringForm | FollowUpForm, *, paper: Paper) -> str:
    """Write the page that is printed and filled in by hand; without any script."""
    measuring = isinstance(form, MeasuringForm)
    columns = tuple(name for name in FOLLOW_UP_COLUMNS if name not in ("fitting", "prompted"))
    return printed_page(
        paper,
        measuring=measuring,
        spaces=(),
        lines=_ON_PAPER if measuring else columns,
        filled=form.prefilled if isinstance(form, MeasuringForm) else {},
        **_shared(form),
    )


def printed_page(paper: Paper, **shown: Any) -> str:
    """Write a page to print, without any script."""
    environment = form_environment()
    style = environment.get_template("print.css").render(paper=paper)
    text: str = environment.get_template("print.html").render(style=style, policy=form_policy(style), **shown)
    return text


def _shortened(script: str) -> str:
    """Leave out the comments and the blanks before the lines, for a smaller page."""
    lines = [line.strip() for line in script.splitlines()]
    return "\n".join(line for line in lines if line and not line.startswith("//"))


def form_environment() -> Environment:
    """Open the templates of the forms."""
    return Environment(
        loader=FileSystemLoader(resource(TEMPLATES)),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finished,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _shared(form: MeasuringForm | FollowUpForm) -> dict[str, Any]:
    """Give what both pages show: title, steps, drawings, cautions."""
    wording = form.wording
    shared = {"form": form, "w": wording.words, "language": wording.language}
    if isinstance(form, MeasuringForm):
        part = wording["measuring"]
        drawings = [
            (shaft_end(form.pattern, wording), part["end_caption"]),
            (shaft_side(form.pattern, wording), part["side_caption"]),
            (gauge_held(wording), part["gauge_caption"]),
        ]
        title = " ".join(filter(None, (part["title"], form.pattern.pattern, form.shaft)))
        return shared | {
            "part": part,
            "title": title,
            "steps": form.steps,
            "drawings": drawings,
            "damages": damage_drawings(),
            "cautions": wording["safety"]["measuring"],
        }
    part = wording["follow_up"]
    return shared | {
        "part": part,
        "title": part["title"],
        "steps": part["steps"],
        "drawings": [],
        "cautions": wording["safety"]["follow_up"],
    }


def _setup(form: MeasuringForm | FollowUpForm) -> dict[str, Any]:
    """Give what the script must know."""
    wording: Wording = form.wording
    setup: dict[str, Any] = {
        "form": form.form,
        "stem": form.stem,
        "um_per": {unit: float(um) for unit, um in UM_PER_UNIT.items()},
        "share": flags.SHARE,
        "units": wording["units"],
        "words": {**wording["flags"], **wording["save"]},
    }
    if isinstance(form, FollowUpForm):
        setup["words"]["progress"] = wording["save"]["progress_fittings"]
        needed = [name for name in ("seen_on", "state") if name in FOLLOW_UP_COLUMNS]
        return setup | {"table": "follow_ups", "columns": FOLLOW_UP_COLUMNS, "needed": needed}
    pattern = form.pattern
    register = pattern.register_mm
    return setup | {
        "table": "readings",
        "lines": [line for line in MEASURING_LINES if line != "form"],
        "needed": [name for name in _NEEDED if name not in ("seen_on", "state")],
        "pattern": pattern.pattern,
        "shaft": form.shaft,
        "stations": pattern.stations,
        "new_um": mm_to_um(pattern.width_mm),
        "register_um": None if register is None else mm_to_um(register),
        "worn_um": flags.WORN_UM,
        "above_um": flags.ABOVE_UM,
        "check_um": flags.CHECK_UM,
        "over_pins": [flags.OVER_PINS_TIMES, flags.OVER_PINS_MOST],
        "turn_um": flags.TURN_UM,
        "rule": flags.STRAY,
    }


def form_policy(style: str, script: str | None = None) -> str:
    """Allow one style and at most one script by their digests, and nothing else at all."""
    scripts = "" if script is None else f" script-src {_digest(script)};"
    return f"default-src 'none'; style-src {_digest(style)};{scripts} base-uri 'none'; form-action 'none'"


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
