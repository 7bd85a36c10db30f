"""Which sizes to keep, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.stock.sizes.choice import HARDLY, USE_UP_YEARS
from wearstats.report.remarks.say import say
from wearstats.report.stock.amounts import engraved, three_figures
from wearstats.report.stock.as_good import as_good_in_words
from wearstats.report.words.phrases import count, day, in_hundred, joined, sentence
from wearstats.studies.stock.spread import SpreadFrom

if TYPE_CHECKING:
    from wearstats.analysis.stock.sizes.choice import SizePlan
    from wearstats.studies.stock.answer import PatternStock, StockStudy
    from wearstats.studies.stock.production import MakeNow

_OFTEN = 0.5


def stock_sentences(study: StockStudy) -> list[str]:
    """Say for every pattern which sizes to keep, why so many, how sure that is, and what it assumes."""
    lines = [line for stock in study.by_pattern.values() for line in pattern_sentences(stock)]
    lines += [sentence(f"Pattern {name} cannot be answered: {say(why)}") for name, why in study.unanswered.items()]
    return lines


def pattern_sentences(stock: PatternStock) -> list[str]:
    """Say it for one pattern."""
    choice = stock.choice
    chosen = choice.chosen
    lines = [
        f"Pattern {stock.pattern}: keep {count(len(chosen.undersizes_um), 'size')}, undersize {sizes(chosen)}; a year "
        f"of {round(stock.year.value or 0.0)} hubs then costs {money(chosen.cost_a_year, stock)}, and "
        f"{in_hundred(chosen.unserved_share)} in 100 shafts need a special",
        _year(stock),
        *(
            make_now_sentences(stock.make)
            if stock.make
            else [f"how many to make cannot be told: {say(stock.why_no_make)}"]
        ),
        *_past(stock),
        *_why_so_many(stock),
        *_today(stock),
        *_falls_out(stock),
        _used_up(stock),
        _spread(stock),
        _sorting(stock),
        *_how_sure(stock),
        *_clusters(stock),
        f"were every shaft known exactly, the same sizes would cost {amount(choice.perfect_a_year, stock)}: no "
        "measuring could save more than that",
        _assumed(stock),
    ]
    return [sentence(line) for line in lines]


def _year(stock: PatternStock) -> str:
    """Say what the coming year will ask for: the one demand on which all the rest hangs."""
    year = stock.year
    hubs = f"{count(round(year.value or 0.0), 'hub')} of pattern {stock.pattern}"
    if stock.year_from is None:
        return f"a year is taken to ask for {hubs}, {say(year.method)} (assumed), for nothing needed is on record"
    between = f"between {year.low or 0.0:.0f} and {year.high or 0.0:.0f}, 90 % sure"
    if stock.year_nearly_unknown:
        return (
            f"what the coming year will ask for is nearly unknown, and so is how many sizes pay: about {hubs} "
            f"({between}), as learnt from {say(stock.year_from)}"
        )
    return (
        f"the coming year will ask for about {hubs} ({between}): sizes, money and what to make rest on this, as learnt "
        f"from {say(stock.year_from)}"
    )


def sizes(plan: SizePlan) -> str:
    """List a plan's sizes: ``0.025, 0.05 and 0.10 mm``."""
    return joined([engraved(um) for um in plan.undersizes_um]) + " mm"


def amount(value: float, stock: PatternStock) -> str:
    """Say an amount of money, rounded to three figures."""
    return f"{three_figures(value)} {stock.prices.currency}"


def money(estimate: Estimate, stock: PatternStock) -> str:
    """Say an estimated amount with its interval."""
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return "an amount that cannot be told"
    low, high = (amount(value, stock).rsplit(" ", 1)[0] for value in (estimate.low, estimate.high))
    return f"{amount(estimate.value, stock)} (between {low} and {high}, 95 % sure)"


def _past(stock: PatternStock) -> list[str]:
    """Say what past quarters would have cost by this rule and by last year's habit."""
    past = stock.backtest
    if past is None or past.cost_difference.value is None:
        return []
    difference = past.cost_difference
    less = f"{amount(abs(difference.value or 0.0), stock)} {'less' if (difference.value or 0.0) < 0 else 'more'}"
    sure = ""
    if difference.low is not None and difference.high is not None:
        sure = f" (between {_less_or_more(difference.low)} and {_less_or_more(difference.high)}, 95 % sure)"
    return [
        f"over the last {count(len(past.quarters), 'quarter')}, as known then, this rule would have cost {less} "
        f"a quarter than making what was made a year before{sure}"
    ]


def _less_or_more(difference: float) -> str:
    return f"{abs(difference):.0f} {'less' if difference < 0 else 'more'}"


def _why_so_many(stock: PatternStock) -> list[str]:
    """Give the rule for the number of sizes, and compare with one size fewer and one more."""
    choice, number = stock.choice, len(stock.choice.chosen.undersizes_um)
    compared = "the cheapest set costs" if choice.today is None else "today's cost"
    little = f"{100 * HARDLY:g} in 100 of what {compared}"
    if choice.keeps_today:
        cheapest = min(choice.plans, key=lambda plan: plan.cost_a_year.value or 0.0)
        return [
            f"today's sizes stay, for no others save {little}: the cheapest set, {sizes(cheapest)}, costs "
            f"{money(cheapest.cost_a_year, stock)}"
        ]
    costs = {len(plan.undersizes_um): plan.cost_a_year.value or 0.0 for plan in choice.plans}
    here = choice.chosen.cost_a_year.value or 0.0
    parts = []
    if number - 1 in costs:
        parts.append(f"one size fewer would cost {amount(costs[number - 1] - here, stock)} more a year")
    if number + 1 in costs:
        more = costs[number + 1] - here
        parts.append(f"one more would cost {amount(abs(more), stock)} {'less' if more < 0 else 'more'}")
    kept = f"the {amount(stock.keeping, stock)} a year that keeping a size costs are counted in"
    rule = (
        "so many sizes were asked for"
        if choice.asked
        else f"kept are the fewest sizes from which one more saves less than {little}"
    )
    return [f"{rule}: {joined(parts)}; {kept}"] if parts else []


def _today(stock: PatternStock) -> list[str]:
    today, chosen = stock.choice.today, stock.choice.chosen
    if today is None or today.cost_a_year.value is None or chosen.cost_a_year.value is None:
        return []
    saved = today.cost_a_year.value - chosen.cost_a_year.value
    than = f"{amount(saved, stock)} more" if saved > 0 else f"{amount(-saved, stock)} less"
    return [
        f"today's sizes, {sizes(today)}, cost {money(today.cost_a_year, stock)}, {than} a year, and leave "
        f"{in_hundred(today.unserved_share)} in 100 shafts to specials"
    ]


def _falls_out(stock: PatternStock) -> list[str]:
    """Say of every size on offer that is not kept why."""
    reasons = [say(why) for why in stock.choice.falls_out]
    return [f"of today's sizes fall out: {'; '.join(reasons)}"] if reasons else []


def _used_up(stock: PatternStock) -> str:
    """Say how what lies on the shelf counts."""
    lost = stock.choice.chosen.used_up_a_shaft * (stock.year.value or 0.0)
    counted = f", which counts as {amount(lost, stock)} a year" if round(lost) else ""
    left = {} if stock.make is None else stock.make.use_up
    head = f"use up {joined([f'{number} of {engraved(um)} mm' for um, number in left.items()])}: " if left else ""
    return (
        f"{head}hubs that lie on the shelf are paid, and those of sizes no longer kept are used up over "
        f"{USE_UP_YEARS:g} years on shafts that they fit, filed where they are tighter{counted}"
    )


def _spread(stock: PatternStock) -> str:
    """Say how hubs of one size spread, and from what that is known."""
    spread = stock.spread
    known = {
        SpreadFrom.PLUGS: f"by the plug gauges of {count(spread.number, 'batch', 'batches')}",
        SpreadFrom.HUBS: f"by {count(spread.number, 'gauged hub')}",
        SpreadFrom.GUESS: "a guess, for no plug gauges and too few gauged hubs are on record",
    }
    return (
        f"hubs of one size spread over {spread.width_um / 1000:.3f} mm ({known[spread.taken_from]}): sizes closer than "
        "that count as one, and what a size costs a shaft is the mean over hubs as they come off the machine"
    )


def _sorting(stock: PatternStock) -> str:
    """Set gauging and sorting against making a finer set."""
    sorting, number = stock.sorting, len(stock.choice.chosen.undersizes_um)
    fewer = (
        f"; so sorted {count(sorting.does_for, 'size')} cost no more than {number} unsorted" if sorting.does_for else ""
    )
    finer = (
        f"making {sorting.finer} sizes instead would save {amount(sorting.finer_saves, stock)}"
        if sorting.finer
        else "no finer set that can be made saves anything"
    )
    if (sorting.saved_a_year.low or 0.0) <= 0:
        return (
            "were every hub gauged and the one on the shelf that suits the shaft best sent, it is not sure that the "
            f"same sizes would cost less; {finer}"
        )
    return (
        "were every hub gauged and the one on the shelf that suits the shaft best sent, the same sizes would cost "
        f"{money(sorting.saved_a_year, stock)} less a year, {amount(sorting.saved_a_hub.value or 0.0, stock)} a hub, "
        f"gauging itself not counted{fewer}; {finer}"
    )


def _how_sure(stock: PatternStock) -> list[str]:
    choice = stock.choice
    frame = choice.in_best_set
    sure = frame[(frame["share"] >= _OFTEN) & frame["chosen"]]["undersize_um"].tolist()
    often = joined([engraved(um) for um in sure]) + " mm" if sure else "none of them"
    regret = choice.regret
    robust = (
        "it is also the set whose extra cost is least where things turn out badly"
        if choice.robust_um == choice.chosen.undersizes_um
        else "the set whose extra cost is least where things turn out badly is "
        + joined([engraved(um) for um in choice.robust_um])
        + " mm"
    )
    return [
        f"with other shafts on record the best set would often differ, but hardly in cost: this one costs "
        f"{amount(regret.value or 0.0, stock)} a year more than the best of as many on average, and at most "
        f"{amount(regret.high or 0.0, stock)} (95 % sure); in more than half of the draws the best set holds {often}; "
        f"{robust}",
        f"the very same set is best in {in_hundred(choice.same_set_share)} of 100 draws of as many shafts as are on "
        f"record, and in {in_hundred(choice.same_set_twice)} of 100 draws of twice as many: more shafts measured would "
        f"save at most {amount(regret.value or 0.0, stock)} a year on average",
        *(
            [f"as good within 1 % of the cost a year: {'; '.join(alike)}"]
            if (alike := as_good_in_words(choice))
            else []
        ),
    ]


def _clusters(stock: PatternStock) -> list[str]:
    symmetric, chosen = stock.choice.symmetric, stock.choice.chosen
    extra = (symmetric.cost_a_year.value or 0.0) - (chosen.cost_a_year.value or 0.0)
    if extra <= 0:
        return []
    return [
        "as many sizes put in the middle of groups of like shafts, as if too loose were no worse than too tight, would "
        f"cost {amount(extra, stock)} more"
    ]


def _assumed(stock: PatternStock) -> str:
    failures = (
        f"failures are not counted: {say(stock.why_no_risk)}"
        if stock.why_no_risk
        else "failures count by what the record says of the gap left"
    )
    return (
        f"this rests on {count(stock.occasions, 'occasion')} on which a hub was chosen for "
        f"{count(stock.shafts, 'shaft')}, as their readings had them; on "
        f"filing that takes {stock.pace:.2g} times what trials and depth are taken to; {failures}; and half a batch "
        "and one hub of every size on the shelf"
    )


def make_now_sentences(make: MakeNow) -> list[str]:
    """Say how many of which size to make, until when that lasts, and how much of the need that serves."""
    wanted = [f"{number} of {engraved(um)} mm" for um, number in make.make.items() if number]
    covers = make.covers_until
    filed = " and tighter hubs filed out" if make.files else ""
    until = (
        f"; with these on the shelf{filed}, a need of a size kept first goes unserved, with a chance of one in ten, on "
        f"{day(covers)}"
        if covers
        else ""
    )
    once = f", {count(make.hubs, 'hub')} for {three_figures(make.money)} {make.prices.currency} once"
    lines = [
        f"make now {joined(wanted)}{once}{until}" if wanted else f"make nothing now{until.replace('these', 'what is')}"
    ]
    if make.limit is not None and make.unlimited_hubs != make.hubs:
        lines.append(
            f"without the limit {count(make.unlimited_hubs, 'hub')} would pay; it costs "
            f"{three_figures(make.limit_costs)} {make.prices.currency} from now on"
        )
    if make.from_tighter_um:
        few = joined([f"{engraved(um)} mm" for um in make.from_tighter_um])
        needs = "their needs" if len(make.from_tighter_um) > 1 else "its needs"
        lines.append(f"of {few} none lies there and none is made: for now tighter hubs, filed out, serve {needs}")
    fill = make.check.fill_rate
    if fill.value is not None:
        lines.append(
            f"until more can be made, in {make.stage_days:.0f} days, {in_hundred(fill.value)} in 100 needs are served "
            "from the shelf"
        )
    return [sentence(line) for line in lines]
