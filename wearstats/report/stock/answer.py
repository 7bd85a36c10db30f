"""Which sizes to keep and what to make now, in short: a verdict, the table of sizes against cost, and a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.analysis.stock.remarks import StockRemark
from wearstats.analysis.stock.sizes.verdict import SizesVerdict, judge_sizes
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE, ShortAnswer, SmallTable
from wearstats.report.stock.amounts import about, engraved, number_word, three_figures
from wearstats.report.stock.as_good import as_good_in_words
from wearstats.report.words.phrases import count, in_hundred, joined
from wearstats.studies.stock.spread import SpreadFrom

if TYPE_CHECKING:
    from wearstats.analysis.stock.sizes.choice import SizeChoice, SizePlan
    from wearstats.studies.stock.answer import PatternStock, StockStudy
    from wearstats.studies.stock.production import MakeNow

_AROUND: Final = 1


def stock_answers(study: StockStudy) -> tuple[ShortAnswer, ...]:
    """Answer in short, pattern by pattern; the last one has the sums of all."""
    parts = list(study.by_pattern.values())
    answered = [_answer(stock, study, last=stock is parts[-1]) for stock in parts]
    others = [
        ShortAnswer(
            question="Which sizes for {}?", about=name, verdict=f"Cannot be told: {say(why)}".rstrip("."), foot=""
        )
        for name, why in study.unanswered.items()
    ]
    return (*answered, *others)


def _answer(stock: PatternStock, study: StockStudy, *, last: bool) -> ShortAnswer:
    return ShortAnswer(
        question="Which sizes for {}?",
        about=stock.pattern,
        verdict=_verdict(stock),
        body=(_table(stock), *_lines(stock), *(_all_and_options(study) if last else ())),
        foot=f"Specials in 100 shafts. {SURE}",
        more="wearstats stock --full",
    )


def _verdict(stock: PatternStock) -> str:
    choice, saving = stock.choice, stock.choice.saving
    how_many, currency = number_word(len(choice.chosen.undersizes_um)), stock.prices.currency
    verdict = judge_sizes(saving, keeps_today=choice.keeps_today, nearly_unknown=stock.year_nearly_unknown)
    if verdict is SizesVerdict.TOO_EARLY:
        return f"Cannot be told yet: too few months of orders; {how_many} on what is known"
    if verdict is SizesVerdict.NO_SIZES_TODAY or saving is None or choice.today is None:
        return f"{how_many}, at {three_figures(choice.chosen.cost_a_year.value or 0.0)} {currency} a year"
    today = f"today's {number_word(len(choice.today.undersizes_um))}"
    if verdict is SizesVerdict.KEEP_TODAY:
        return f"Keep {today}: no other set saves 3 in 100"
    value, low, high = (about(end or 0.0) for end in (saving.value, saving.low, saving.high))
    if verdict is SizesVerdict.SAVES:
        return f"{how_many}, saving {value} {currency} a year ({low} to {high}) against {today}"
    if verdict is SizesVerdict.COSTS:
        more, low, high = (about(-(end or 0.0)) for end in (saving.value, saving.high, saving.low))
        return f"{how_many}, costing {more} {currency} a year ({low} to {high}) more than {today}"
    return f"{how_many}; saving against {today} not settled: {value} {currency} a year ({low} to {high})"


def _table(stock: PatternStock) -> SmallTable:
    """Set today's sizes and the best of about as many as are chosen side by side."""
    choice = stock.choice
    number = len(choice.chosen.undersizes_um)
    rows: list[tuple[str, SizePlan]] = []
    if choice.today is not None:
        rows.append((f"today {len(choice.today.undersizes_um)}", choice.today))
    plans = [plan for plan in choice.plans if abs(len(plan.undersizes_um) - number) <= _AROUND]
    rows += [(str(len(plan.undersizes_um)), plan) for plan in plans]
    marked = [plan.undersizes_um == choice.chosen.undersizes_um for _, plan in rows]
    return SmallTable(
        head=("sizes", f"{stock.prices.currency} a year", "specials", "undersize, mm"),
        rows=tuple(
            (
                name,
                three_figures(plan.cost_a_year.value or 0.0),
                in_hundred(plan.unserved_share),
                " ".join(engraved(um) for um in plan.undersizes_um),
            )
            for name, plan in rows
        ),
        chosen=marked.index(True) if True in marked else None,
        left=frozenset({3}),
    )


def _lines(stock: PatternStock) -> list[str]:
    lines = [*_as_good(stock.choice), *_falls_out(stock)]
    if stock.spread.taken_from is SpreadFrom.GUESS:
        lines.append(f"Assumed: hubs of one size spread over {stock.spread.width_um / 1000:.3f} mm; add plug gauges.")
    if stock.year_from is None:
        lines.append(f"Assumed: a year asks for {count(round(stock.year.value or 0.0), 'hub')}; no order is on record.")
    if stock.why_no_risk is not None:
        lines.append(f"Failures are not counted: {say(stock.why_no_risk)}.")
    make = stock.make
    if make is None:
        lines.append(f"How many to make cannot be told: {say(stock.why_no_make)}.")
    else:
        lines += [_make(make, stock), *_use_up(make)]
    return [*lines, _sorting(stock)]


def _as_good(choice: SizeChoice) -> list[str]:
    """Name the first of the sets that are as good; the long answer has them all."""
    named = as_good_in_words(choice)
    return [f"As good, within 1 %: {named[0]}."] if named else []


def _falls_out(stock: PatternStock) -> list[str]:
    """Say why sizes on offer fall out, those with like reasons together."""
    reasons = {
        StockRemark.SAVES_LITTLE: "saves little",
        StockRemark.TOO_NEAR: "too near",
    }
    said = []
    for code, reason in reasons.items():
        sizes = [engraved(one.facts["undersize_um"]) for one in stock.choice.falls_out if one.code == code]
        said += [f"{joined(sizes)}, {reason}"] if sizes else []
    return [f"Falls out: {'; '.join(said)}."] if said else []


def _make(make: MakeNow, stock: PatternStock) -> str:
    """Say what to make, in hubs and money, and what a limit costs."""
    currency = stock.prices.currency
    if not make.hubs:
        said = "Make none now"
    else:
        sizes = ", ".join(f"{number} of {engraved(um)}" for um, number in make.make.items() if number)
        said = f"Make now {count(make.hubs, 'hub')}, {three_figures(make.money)} {currency} once: {sizes}"
    if make.limit is None or make.unlimited_hubs == make.hubs:
        return f"{said}."
    return f"{said}. {make.unlimited_hubs} would pay; the limit costs {about(make.limit_costs)} {currency}."


def _use_up(make: MakeNow) -> list[str]:
    left = ", ".join(f"{number} of {engraved(um)}" for um, number in make.use_up.items())
    return [f"Use up: {left}."] if left else []


def _sorting(stock: PatternStock) -> str:
    """Set gauging and sorting against making a finer set."""
    sorting, currency = stock.sorting, stock.prices.currency
    if (sorting.saved_a_year.low or 0.0) <= 0:
        return "Gauging and sending the best: no saving is sure."
    said = f"Gauging and sending the best saves {about(sorting.saved_a_year.value or 0.0)} {currency} a year"
    if sorting.does_for is not None:
        said += f"; {number_word(sorting.does_for)} sizes do"
    return f"{said}."


def _all_and_options(study: StockStudy) -> list[str]:
    """Sum up what to make of all patterns, and name the options with numbers that would change something."""
    parts = list(study.by_pattern.values())
    makes = [stock.make for stock in parts if stock.make is not None]
    hubs, money = sum(make.hubs for make in makes), sum(make.money for make in makes)
    currencies = {make.prices.currency for make in makes}
    lines = []
    if len(makes) > 1 and hubs and len(currencies) == 1:
        lines.append(f"All patterns: {count(hubs, 'hub')}, {three_figures(money)} {currencies.pop()}.")
    if any(stock.choice.asked for stock in parts) or any(make.limit is not None for make in makes):
        # who gave an option knows of them
        return lines
    number = len(parts[-1].choice.chosen.undersizes_um)
    said = f"Choose: --sizes {number - 1 if number > 1 else 2}"
    if hubs:
        budget = round(money / 2, -2 if money >= 400 else -1)
        said += f", --hubs {max(hubs // 2, 1)}, --budget {budget:.0f}. Then: --making-list DIR"
    return [" ".join([*lines, f"{said}."])]
