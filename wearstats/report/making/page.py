"""The making list as a page to print and to tick off at the machine."""

from __future__ import annotations

from typing import Any, Final

from wearstats.analysis.register.bores import Bore
from wearstats.domain.units import engraved
from wearstats.report.forms.pages import Paper, form_environment, form_policy
from wearstats.report.remarks.say import say
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.report.words.phrases import count, day, sentence
from wearstats.studies.making.answer import BatchToMake, MakingList, PatternMaking

_CAUTIONS: Final = (
    "A hub within these limits is not thereby tight on a worn shaft: it is filed to its shaft, and checked on it.",
    "The machine's own rules, guards and eye protection come first; deburr every edge.",
    *SHORT_CAUTIONS,
)


_NO_BORE: Final = (
    "no register is on record of the pattern, so no bore is given: go by its drawing, or add register_mm to patterns"
)


def making_page(making: MakingList, *, paper: Paper) -> str:
    """Write the list for that paper; without any script."""
    environment = form_environment()
    style = environment.get_template("print.css").render(paper=paper)
    text: str = environment.get_template("making.html").render(
        policy=form_policy(style),
        style=style,
        title=f"Making list of {day(making.as_of)}: {count(making.hubs, 'hub')}",
        parts=[_part(name, part) for name, part in making.by_pattern.items()],
        cautions=_CAUTIONS,
    )
    return text


def _part(name: str, part: PatternMaking) -> dict[str, Any]:
    made_of = [part.material, "hardened" if part.hardened == "yes" else ""]
    # the reason of the limits is the same for most sizes: said once each
    limits = dict.fromkeys(say(batch.limits_from) for batch in part.batches)
    bore = part.bore
    told = [*map(say, part.remarks), *limits]
    if bore is None:
        told.append(_NO_BORE)
    else:
        told.append(f"bore over the register {_bore(bore)} mm, {say(bore.why)}")
    return {
        "name": name,
        "of": ", ".join(filter(None, made_of)),
        "rows": [_row(batch, part) for batch in part.batches],
        "sentences": [sentence(line) for line in told],
    }


def _bore(bore: Bore) -> str:
    return f"from {bore.low_mm:.3f}" if bore.high_mm is None else f"{bore.low_mm:.3f} to {bore.high_mm:.3f}"


def _row(batch: BatchToMake, part: PatternMaking) -> dict[str, str]:
    return {
        "batch": batch.batch,
        "size": engraved(batch.undersize_um),
        "quantity": str(batch.quantity),
        "space": engraved(1000 * batch.space_mm),
        "go": engraved(1000 * batch.go_mm),
        "no_go": engraved(1000 * batch.no_go_mm),
        "bore": "" if part.bore is None else _bore(part.bore),
        "engraving": batch.engraving,
    }
