"""The answer for one shaft on a terminal: a verdict, what then, and a table whose columns decide."""

from __future__ import annotations

import textwrap
from typing import Final

from wearstats.analysis.advice.outcomes import AS_SUPPLIED
from wearstats.analysis.advice.rule import Candidate
from wearstats.report.remarks.say import say
from wearstats.report.shaft.sentences import headline, runner_up_words, then_lines
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.shaft.answer import ShaftStudy

WIDTH: Final = 80
_ROWS: Final = 6
_CAUTIONS: Final = (
    "First make sure that the engine cannot start.",
    "The maker's manual and the local rules come first; a competent person fits.",
    "Never run it with any rattle, or while it is not known how it bears.",
)


def shaft_answer(study: ShaftStudy) -> list[str]:
    """Give the lines, none longer than `WIDTH`, at most 22 of them."""
    lines = _wrapped(f"WHICH HUB FOR {study.shaft}?  {_capital(headline(study.advice))}.", indent="  ")
    for told in then_lines(study)[: 2 if study.advice.first is not None else 1]:
        lines += _wrapped(told, indent="    ", first="  ")
    table = choice_lines(study)
    lines += table
    hub, other = study.advice.hub, study.advice.runner_up
    if hub is not None and other is not None and table:
        lines += _wrapped(f"{_capital(runner_up_words(study, hub, other))}.", indent="    ", first="  ")
    lines += [f"  {line}" for line in _CAUTIONS]
    return [*lines, f"  Brackets: 95 % sure.   More: wearstats shaft {study.shaft} --full"]


def choice_lines(study: ShaftStudy) -> list[str]:
    """Give the table: a row a size, fitted as it would be, the one spoken of marked."""
    hub = study.advice.hub
    if hub is None:
        return []
    rows = _rows(study, hub)
    money = study.currency if len(study.currency) <= 4 else "cost"
    head = f"    {'undersize, mm':>14} {'minutes':>8} {'slack':>6} {'loose, of 100':>18} {money:>6}"
    return [head, *(_row(each, chosen=each is hub, study=study) for each in rows)]


def _rows(study: ShaftStudy, hub: Candidate) -> list[Candidate]:
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
    near = sorted(best.values(), key=lambda each: (each.special, abs(each.undersize_um - hub.undersize_um)))
    for each in near:
        if len(kept) < _ROWS and each.undersize_um not in sizes:
            kept[id(each)] = each
    return sorted(kept.values(), key=lambda each: each.undersize_um)


def _order(each: Candidate) -> tuple[bool, float]:
    return not each.allowed, each.known_cost


def _row(each: Candidate, *, chosen: bool, study: ShaftStudy) -> str:
    minutes = "0" if each.method == AS_SUPPLIED else f"{each.minutes:.0f}"
    risk, cost = each.risk, each.cost.value
    loose = "not known"
    if risk.value is not None:
        loose = f"{in_hundred(risk.value)} ({in_hundred(risk.low or 0.0)} to {in_hundred(risk.high or 1.0)})"
    size = f"{each.undersize_um / 1000:.3f}" + ("*" if each.special else "")
    why = "; ".join(say_refusals(each)) if each.refused else "a special" if each.special else ""
    if each.risk.value is not None and abs(each.risk.value - study.risk_limit) <= _NEAR:
        why = "at the limit"
    line = (
        f"  {'>' if chosen else ' '} {size:>14} {minutes:>8} {in_hundred(each.slack):>6} {loose:>18} "
        f"{'' if cost is None else f'{cost:.0f}':>6}  {why}"
    )
    return line[:WIDTH].rstrip()


_NEAR: Final = 0.005


def say_refusals(each: Candidate) -> list[str]:
    """Say why a hub may not be sent, a word or two each; the worst first."""
    from wearstats.analysis.remark import remark

    return [say(remark(code)) for code in each.refused[:1]]


def _wrapped(text: str, *, indent: str, first: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_long_words=False)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
