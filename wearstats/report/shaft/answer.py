"""The answer for one shaft on a terminal: a verdict, what then, and a table whose columns decide."""

from __future__ import annotations

import shlex
import textwrap
from typing import Final

from wearstats.analysis.advice.limits import NEAR_LIMIT
from wearstats.analysis.advice.outcomes import AS_SUPPLIED
from wearstats.analysis.advice.remarks import First, Refusal
from wearstats.analysis.advice.rule import Candidate
from wearstats.analysis.register.remarks import BoreRemark
from wearstats.analysis.remark import remark
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import WIDTH, ShortAnswer, SmallTable, capital
from wearstats.report.shaft.sentences import headline, runner_up_words, short_words, when_words
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.report.words.phrases import in_hundred, whole
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.costs import IN_MINUTES

_ROWS: Final = 6
_MORE: Final = 2
_URGENT: Final = {First.DO_NOT_RUN, First.STOP_AND_CHECK, First.SEND_SHAFT_HERE}
_ON_CHANCE: Final = {Refusal.OVER_LIMIT, Refusal.BEYOND_RECORD}


def shaft_answer(study: ShaftStudy) -> ShortAnswer:
    """Say what to do now, what then, and what the neighbours would cost: at most 22 lines."""
    advice, hub = study.advice, study.advice.hub
    reason = say(advice.then.because[0]) if advice.then.because else ""
    verdict = headline(advice) if advice.first is not None or hub is None else f"{short_words(hub)}: {reason}"
    body: list[str | SmallTable] = [
        f"{capital(say(more))}." for more in advice.because[1 : len(advice.because) - len(advice.then.because)][:_MORE]
    ]
    if advice.first is None and study.bore is not None and study.bore.code != BoreRemark.GOES_OVER:
        body.append(f"{capital(say(study.bore))}.")
    if hub is not None:
        if advice.first is not None:
            when = f"{when_words(advice)} (reading of {study.measured_on.isoformat()})"
            body.append(f"{when}: {short_words(hub)}: {reason}.")
        body.append(choices(study, hub))
        if advice.runner_up is not None:
            body.append(f"{runner_up_words(study, hub, advice.runner_up)}.")
    if advice.beside:
        stray = textwrap.shorten(capital(say(advice.beside[0])), 2 * WIDTH - 40, placeholder=" …")
        body.append(f"{stray}; it changes nothing.")
    guessed = " Prices are guesses." if study.currency == IN_MINUTES else ""
    return ShortAnswer(
        question="Which hub for {}?",
        about=study.shaft,
        verdict=verdict,
        body=(*body, *_noted(study)),
        cautions=SHORT_CAUTIONS,
        foot=f"Of 100; brackets 95 % sure.{guessed}",
        more=f"wearstats shaft {shlex.quote(study.shaft)} --full",
        urgent=advice.first in _URGENT,
    )


def _noted(study: ShaftStudy) -> list[str]:
    """Print the first remark, shortened to a line."""
    if not study.remarks:
        return []
    more = f" (and {len(study.remarks) - 1} more)" if len(study.remarks) > 1 else ""
    return [textwrap.shorten(f"Noted: {study.remarks[0]}{more}", WIDTH - 2, placeholder=" …")]


def choices(study: ShaftStudy, hub: Candidate) -> SmallTable:
    """Give a row a size, fitted as it would be, the one spoken of marked."""
    rows = ladder_rows(study, hub)
    money = study.currency if len(study.currency) <= 4 else "worth"
    return SmallTable(
        head=("undersize, mm", "minutes", "slack", f"loose in {study.horizon_months:.3g} mo", money, ""),
        rows=tuple(_row(each, study=study) for each in rows),
        chosen=next(at for at, each in enumerate(rows) if each is hub),
        left=frozenset({5}),
    )


def ladder_rows(study: ShaftStudy, hub: Candidate | None) -> list[Candidate]:
    """Choose the rows: every size once, by its best method, those nearest to the hub spoken of."""
    best: dict[tuple[float, bool], Candidate] = {}
    for choice in study.choices:
        each = choice.candidate
        if each.second_um is not None or each.hub is not None:
            continue
        key = (each.undersize_um, each.special)
        if key not in best or _order(each) < _order(best[key]):
            best[key] = each
    kept = {id(each): each for each in (hub, study.advice.runner_up) if each is not None}
    sizes = {each.undersize_um for each in kept.values()}
    middle = 0.0 if hub is None else hub.undersize_um
    near = sorted(best.values(), key=lambda each: (each.special, abs(each.undersize_um - middle)))
    for each in near:
        if len(kept) < _ROWS and each.undersize_um not in sizes:
            kept[id(each)] = each
    return sorted(kept.values(), key=lambda each: each.undersize_um)


def _order(each: Candidate) -> tuple[bool, bool, float]:
    return bool(set(each.refused) - _ON_CHANCE), not each.allowed, each.known_cost


def _row(each: Candidate, *, study: ShaftStudy) -> tuple[str, ...]:
    minutes = "0" if each.method == AS_SUPPLIED else f"{each.minutes:.0f}"
    risk, cost = each.risk, each.cost.value
    loose = "not known"
    if risk.value is not None:
        loose = f"{in_hundred(risk.value)} ({in_hundred(risk.low or 0.0)} to {in_hundred(risk.high or 1.0)})"
    size = f"{each.undersize_um / 1000:.3f}" + ("*" if each.special else "")
    if each.second_um is not None:
        size += f" or {each.second_um / 1000:.3f}"
    why = "; ".join(say_refusals(each)) if each.refused else "a special" if each.special else ""
    # a hub that is refused for itself is not saved by its chance
    by_chance_alone = not set(each.refused) - _ON_CHANCE
    if by_chance_alone and each.risk.value is not None and abs(each.risk.value - study.risk_limit) <= NEAR_LIMIT:
        why = "at the limit"
    return size, minutes, in_hundred(each.slack), loose, "" if cost is None else whole(cost), why


def say_refusals(each: Candidate) -> list[str]:
    """Say why a hub may not be sent, a word or two each; the worst first."""
    return [say(remark(code)) for code in each.refused[:1]]
