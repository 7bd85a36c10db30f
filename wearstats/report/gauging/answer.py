"""How far measurements can be trusted, in short: what to ask for next, how good each kind is, and what to ask about."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.report.gauging.sentences import places
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.words.phrases import count, in_hundred, sure_microns
from wearstats.studies.gauging.remarks import GaugingVerdict

if TYPE_CHECKING:
    from wearstats.studies.gauging.study import GaugingStudy

_WHERE: Final = {"home": "at home", "workshop": "in the workshop", "caliper": "with a caliper"}


def gauging_answer(study: GaugingStudy) -> ShortAnswer:
    """Say what to ask an owner for next, how good each kind of measuring is, and which reading to ask about."""
    return ShortAnswer(
        question="How far can the measurements be trusted?",
        verdict=say(study.verdict),
        body=(
            _kinds(study),
            "Own error: shared by all readings of an inspection; more places do not cure it.",
            *_few(study),
            *_middle(study),
            *_stray(study),
        ),
        more="wearstats gauging --full",
    )


def _kinds(study: GaugingStudy) -> SmallTable:
    rows = [
        (
            _WHERE[kind],
            str(quality.inspections),
            "taken as true" if kind == "workshop" else sure_microns(quality.bias_um),
            sure_microns(quality.bias_sd_um),
            sure_microns(quality.repeatability_um),
        )
        for kind, quality in study.by_class.items()
        if quality.inspections
    ]
    head = ("in µm", "done", "reads too large", "own error", "one reading")
    return SmallTable(head=head, rows=tuple(rows), left=frozenset({0}))


def _few(study: GaugingStudy) -> tuple[str, ...]:
    """Say with how few places a check piece beats the whole."""
    few = study.ways.few_with_piece
    if study.verdict.code != GaugingVerdict.CHECK_PIECE or few is None:
        return ()
    return (f"With it {places(few)} do: {in_hundred(few.right_size_probability)} in 100.",)


def _middle(study: GaugingStudy) -> tuple[str, ...]:
    if study.ways.whole.plan.stations < 3:
        return ()
    return ("Have the middle measured too: the ends alone hide a hollow, and no hub cures one.",)


def _stray(study: GaugingStudy) -> tuple[str, ...]:
    """Name the reading that belongs least, to be asked about."""
    if study.strays.empty:
        return ()
    first = study.strays.iloc[0]
    rest = len(study.strays) - 1
    more = f" And {count(rest, 'more finding')}." if rest else ""
    return (f"Ask about {first['inspection']}: {say(first['why'])}.{more}",)
