"""How far measurements can be trusted, in short: what to ask for next, how good each kind is, and what to ask about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gauging.remarks import StrayRemark
from wearstats.report.gauging.sentences import places
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable, sure_of
from wearstats.report.words.phrases import count, day, in_hundred, sure_number, two_figures
from wearstats.studies.gauging.remarks import GaugingVerdict

if TYPE_CHECKING:
    from wearstats.analysis.remark import Remark
    from wearstats.studies.gauging.study import GaugingStudy

_WHERE: Final = {"home": "at home", "workshop": "in the workshop", "caliper": "with a caliper"}


_ASSUMED: Final = "*"
_LOOKS: Final[Mapping[str, str]] = {
    StrayRemark.PLACE: "it lies far off",
    StrayRemark.SPLINE: "all its readings lie off alike",
    StrayRemark.STATIONS_EXCHANGED: "shoulder and nut end look exchanged",
    StrayRemark.SPLINES_EXCHANGED: "it looks exchanged with another spline",
    StrayRemark.TAPER_TURNED: "shoulder and nut end look exchanged",
}


def gauging_answer(study: GaugingStudy) -> ShortAnswer:
    """Say what to ask an owner for next, how good each kind of measuring is, and which reading to ask about."""
    kinds = _kinds(study)
    assumed = any(_ASSUMED in cell for row in kinds.rows for cell in row)
    return ShortAnswer(
        question="How far can the measurements be trusted?",
        verdict=say(study.verdict),
        body=(
            kinds,
            "Own error: in all readings of an inspection alike; more places do not cure it.",
            *_few(study),
            *_middle(study),
            *_stray(study),
            *_overdue(study),
        ),
        foot=sure_of(study.from_shafts) + (f" {_ASSUMED}: assumed." if assumed else ""),
        more="wearstats gauging --full",
    )


def _kinds(study: GaugingStudy) -> SmallTable:
    rows = [
        (
            _WHERE[kind],
            str(quality.inspections),
            "taken as true" if kind == "workshop" else _bias(quality.bias_um),
            _number(quality.bias_sd_um),
            _number(quality.repeatability_um),
        )
        for kind, quality in study.by_class.items()
        if quality.inspections
    ]
    head = ("in µm", "done", "reads too large", "own error", "one reading")
    return SmallTable(head=head, rows=tuple(rows), left=frozenset({0}))


def _bias(bias: Estimate) -> str:
    """Say how much too large is read; what is assumed of it is nothing that one could go by."""
    return "not known" if bias.side() is None else sure_number(bias)


def _number(um: Estimate) -> str:
    """Say a spread, one that is assumed without its interval."""
    if um.value is not None and um.side() is None:
        return f"{two_figures(um.value)}{_ASSUMED}"
    return sure_number(um)


def _few(study: GaugingStudy) -> tuple[str, ...]:
    """Say with how few places a check piece beats the whole."""
    few = study.ways.few_with_piece
    if study.verdict.code != GaugingVerdict.CHECK_PIECE or few is None:
        return ()
    return (f"With it {places(few)} are enough: right for {in_hundred(few.right_size_probability)} in 100.",)


def _middle(study: GaugingStudy) -> tuple[str, ...]:
    if study.ways.whole.plan.stations < 3:
        return ()
    return ("The middle too: the ends alone hide a hollow, and no hub cures one.",)


def _overdue(study: GaugingStudy) -> tuple[str, ...]:
    """Name the check piece that is longest overdue, so that it is asked for."""
    overdue = study.pieces_out[study.pieces_out["overdue"].astype(bool)]
    if overdue.empty:
        return ()
    first = overdue.iloc[0]
    who = next((str(first[name]) for name in ("shaft", "owner") if pd.notna(first[name])), "whoever has it")
    more = f" And {len(overdue) - 1} more: --full." if len(overdue) > 1 else ""
    return (f"Ask for check piece {first['piece']} back from {who}: due {day(first['back_by'])}.{more}",)


def _stray(study: GaugingStudy) -> tuple[str, ...]:
    """Name the reading that belongs least, to be asked about."""
    if study.strays.empty:
        return ()
    first = study.strays.iloc[0]
    why: Remark = first["why"]
    where = [str(first["inspection"])]
    if pd.notna(first["spline"]):
        where.append(f"spline {int(first['spline'])}")
    if pd.notna(first["station"]) and first["station"]:
        where.append(str(first["station"]))
    slip = why.facts.get("slip")
    rest = len(study.strays) - 1
    more = f" And {count(rest, 'more finding')}." if rest else ""
    return (f"Ask about {', '.join(where)}: {say(slip) if slip else _LOOKS[why.code]}.{more}",)
