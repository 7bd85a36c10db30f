"""What stands on top of the page: up to five things to do, and four figures with how they have changed."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from wearstats.report.page.model import Action, KeyFigure, Panel
from wearstats.report.words.phrases import count, in_hundred, joined, two_figures
from wearstats.studies.counts.returns import ReturnsStudy
from wearstats.studies.overview import Picture
from wearstats.studies.review.study import ReviewStudy

_MOST: Final = 5
_NAMED: Final = 3


def panel_of(picture: Picture) -> Panel | None:
    """Lay the panel out; nothing where there is no review.

    Parameters
    ----------
    picture : Picture
        The answers.
    """
    review = picture.review
    if review is None:
        return None
    actions = [*_warn(review), *_others(review), *_ask(review), *_make(picture)]
    return Panel(actions=tuple(actions[:_MOST]), figures=tuple(_figures(review, picture.returns)))


def _warn(review: ReviewStudy) -> list[Action]:
    if review.in_use is None or not (number := review.in_use.figures.to_warn):
        return []
    rows: list[dict[Any, Any]] = review.in_use.to_warn.head(_NAMED).to_dict("records")
    names = [f"{row['shaft']} ({row['owner']})" if isinstance(row["owner"], str) else str(row["shaft"]) for row in rows]
    first = rows[0]["loose_now"]
    sure = "" if np.isnan(first) else f"; of the first, {in_hundred(first)} in 100 that it is loose already"
    more = number - len(names)
    said = f"{', '.join(names)}{f' and {more} more' if more else ''}{sure}"
    what = "owners to warn: stop, and check for rattle before the next start"
    return [Action(number=str(number), what=what, names=said, to="review-more", urgent=True)]


_WORDS: Final = {
    "take-back": ("batch withdrawn: warn who has a hub of it", "review"),
    "withdraw": ("µm wide: withdraw batch", "review"),
    "re-gauge": ("batch to gauge again", "review"),
    "look-into": ("times as many failures as before: look into it", "review"),
    "stop": ("µm of gap: above it send no hub as supplied", "loosening"),
}


def _others(review: ReviewStudy) -> list[Action]:
    """Give what else the review found, one line a kind."""
    found: dict[str, Action] = {}
    for action in review.actions:
        if action.do in _WORDS and action.do not in found:
            words, to = _WORDS[action.do]
            named = next((str(value) for key, value in action.what.facts.items() if key in {"batch", "group"}), "")
            found[action.do] = Action(number=two_figures(action.number), what=words, names=named, to=to)
    return list(found.values())


def _ask(review: ReviewStudy) -> list[Action]:
    if review.in_use is None or not (number := review.in_use.figures.to_ask):
        return []
    return [Action(number=str(number), what="owners to ask how the hub holds", names="wearstats calls", to="review")]


def _make(picture: Picture) -> list[Action]:
    if picture.stock is None:
        return []
    made = {name: part.make.make for name, part in picture.stock.by_pattern.items() if part.make}
    hubs = sum(sum(sizes.values()) for sizes in made.values())
    names = [
        f"{name}: {joined([f'{number} of {um / 1000:.3f}' for um, number in sizes.items() if number])}"
        for name, sizes in made.items()
        if any(sizes.values())
    ]
    return [Action(number=str(hubs), what="hubs to make", names="; ".join(names), to="stock")] if hubs else []


def _figures(review: ReviewStudy, returns: ReturnsStudy) -> list[KeyFigure]:
    quarters = review.counts.by_quarter
    before = int(quarters["failures"].iloc[-2]) if len(quarters) > 1 else None
    told = [] if review.in_use is None else [review.in_use.figures]
    figures = [
        KeyFigure(
            number=str(review.counts.failures),
            what=f"worked loose in {review.quarter}",
            change="" if before is None else f"{before} the quarter before",
        )
    ]
    names = list(returns.quarters)
    at = names.index(str(review.quarter)) if str(review.quarter) in names else None
    if at is not None:
        came = [sum(returns.counts[place]) for place in (at - 1, at) if place >= 0]
        change = f"{came[0]} of {returns.sent[at - 1]} the quarter before" if len(came) > 1 else ""
        figures.append(KeyFigure(number=str(came[-1]), what=f"came back, of {returns.sent[at]} sent", change=change))
    for each in told:
        fitted = f"{count(review.counts.fittings, 'hub')} went on in the quarter"
        figures.append(KeyFigure(number=str(each.hubs_in_use), what="hubs in use", change=fitted))
        soon = each.failures_next_quarter
        if soon.value is not None:
            ends = None if soon.low is None or soon.high is None else f"{soon.low:.0f} to {soon.high:.0f}, 90 % sure"
            figures.append(
                KeyFigure(number=f"{soon.value:.0f}", what="to be reported loose next quarter", change=ends or "")
            )
    return figures
