"""How worn the shafts are, in short: how much by pattern, how fast, and where to go on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.words.phrases import count, sure_microns, sure_number, two_figures

if TYPE_CHECKING:
    from wearstats.studies.wear.answer import WearStudy
    from wearstats.studies.wear.growth import GrowthStudy

_MOST_PATTERNS: Final = 5
_OF: Final = {"tight": "while its hub is tight", "all": "whatever the hub does", "ages": "old shafts against young"}


def wear_answer(study: WearStudy) -> ShortAnswer:
    """Say how much width is lost, by pattern, how fast, and which question comes next."""
    return ShortAnswer(
        question="How worn are the shafts?",
        verdict=say(study.verdict),
        body=(
            *_by_pattern(study),
            *_sampled(study),
            *_rate(study),
            *_due(study.growing),
            "So: which sizes serve them: wearstats stock.",
        ),
        more="wearstats wear --full",
    )


def _by_pattern(study: WearStudy) -> tuple[str | SmallTable, ...]:
    """Give a row for all and for each of the commonest patterns."""
    rows = [_row("all", study.shafts, study.wear_mean_um, study.quantiles_um)]
    by_size = sorted(study.by_pattern.items(), key=lambda item: -item[1].shafts)
    if len(by_size) == 1:
        rows = []
    for name, pattern in by_size[:_MOST_PATTERNS]:
        wear = pattern.wear
        mean, quantiles = (Estimate(value=None), {}) if wear is None else (wear.mean_um, wear.quantiles_um)
        rows.append(_row(name, pattern.shafts, mean, quantiles))
    head = ("width lost, µm", "shafts", "on average", "half over", "one in ten over")
    rest = len(by_size) - _MOST_PATTERNS
    more = (f"And {count(rest, 'pattern')} of fewer shafts.",) if rest > 0 else ()
    return (SmallTable(head=head, rows=tuple(rows), left=frozenset({0})), *more)


def _row(name: str, shafts: int, mean: Estimate, quantiles: dict[str, Estimate]) -> tuple[str, ...]:
    half, tenth = (quantiles.get(key, Estimate(value=None)) for key in ("0.5", "0.9"))
    return (name, str(shafts), *map(sure_number, (mean, half, tenth)))


def _sampled(study: WearStudy) -> tuple[str, ...]:
    if study.from_shafts is None:
        return ()
    return (f"Averages are of all shafts, the rest of {study.from_shafts} taken at random.",)


def _rate(study: WearStudy) -> tuple[str, ...]:
    """Say how fast shafts wear, and how much faster under a loose hub where that shows."""
    growing, growth = study.growing, study.growth
    if growing is None or growth.value is None:
        return (f"How fast: {say(growth.method)}.",)
    open_ = "; none shows surely" if growth.side() == 0 else ""
    lines = [f"Per 1000 hours, {_OF[growing.growth_of]}: {sure_microns(growth)}{open_}."]
    loose = growing.by_between["loose"]
    if growing.growth_of == "tight" and loose.value is not None and growing.loose_minus_tight.side() == 1:
        lines.append(f"Where a hub was found loose it was faster: {sure_microns(loose)}.")
    return tuple(lines)


def _due(growing: GrowthStudy | None) -> tuple[str, ...]:
    """Name the shaft that will need its next size first."""
    if growing is None:
        return ()
    known = growing.needed[growing.needed["needed_h"].notna()]
    if known.empty:
        return ()
    first = known.sort_values("needed_h").iloc[0]
    about, low, high = (_hours(first[name]) for name in ("needed_h", "needed_low_h", "needed_high_h"))
    ends = f" ({low} to {high or 'beyond the record'})" if low else ""
    return (f"Next size due first: {first['shaft']}, in about {about} hours{ends}.",)


def _hours(hours: float) -> str:
    return "" if pd.isna(hours) else two_figures(max(hours, 0.0))
