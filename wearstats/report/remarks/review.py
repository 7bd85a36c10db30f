"""What is remarked in the review, of calls, and of forecasts."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

from wearstats.analysis.monitoring.remarks import MonitoringRemark
from wearstats.domain.units import print_um
from wearstats.report.remarks.hubs import loan_words
from wearstats.report.words.phrases import count, filled
from wearstats.studies.counts.remarks import ReturnsRemark
from wearstats.studies.forecast.remarks import ForecastRemark
from wearstats.studies.review.remarks import ActionRemark, CallRemark, CallsVerdict, RiskRemark, VerdictRemark

_BY = {"method_sent": "hubs sent", "undersize_um": "undersize, µm"}
_MOST_SHAFTS = 12
_WHAT = {"loose": "failures", "came-off": "hubs that came off", "came-back": "hubs that came back"}


def _hundred(share: float) -> str:
    return f"{100 * share:.0f}" if share >= 0.005 or share == 0 else "less than 1"


def _of_sample(shafts: int | None) -> str:
    return "" if shafts is None else f" (looking only at {count(shafts, 'shaft')} taken at random of all)"


def _quarter(word: str, *, only: str = "") -> Callable[..., str]:
    """Set what was seen against what was expected: ``Quiet: 14 worked loose, 9 expected (4 to 15)``."""

    def told(*, seen: int, expected: float, low: float, high: float, over: bool, since: str | None = None) -> str:
        so_far = "" if over else " so far"
        many = f", too many since {since}" if since else ""
        loose = f"{only if seen else ''}{_seen(seen)}"
        return f"{word}{so_far}: {loose}, {expected_words(expected)} expected ({low:.0f} to {high:.0f}){many}"

    return told


def _seen(hubs: int) -> str:
    return f"{hubs or 'none'} worked loose"


def _back(word: str, *, only: str = "") -> Callable[..., str]:
    """Set what came back against what was expected: ``Quiet in 2026Q3: 9 came back, 8 expected (3 to 14)``."""

    def told(*, quarter: str, back: int, expected: float, low: float, high: float, over: bool) -> str:
        so_far = "" if over else ", so far"
        came = f"{only if back else ''}{back or 'none'} came back"
        return f"{word} in {quarter}{so_far}: {came}, {expected_words(expected)} expected ({low:.0f} to {high:.0f})"

    return told


def expected_words(number: float) -> str:
    """Say an expected number as one can be counted: ``9``, ``fewer than 1``, ``none``."""
    return "none" if number <= 0 else "fewer than 1" if number < 1 else f"{number:.0f}"


def about(number: float) -> str:
    """Say an expected number in a sentence: ``about 20``, ``fewer than one``, ``none``."""
    return {"none": "none", "fewer than 1": "fewer than one"}.get(words := expected_words(number), f"about {words}")


def _likely_loose(
    *,
    limit: float,
    withdrawn: int,
    sampled_shafts: int | None,
    shaft: str,
    owner: str | None,
    risk: float,
    warned: int,
) -> str:
    batch = " or the batch is withdrawn" if withdrawn else ""
    who = f"{shaft} ({owner})" if owner else shaft
    # of a withdrawn batch where no model tells the chance
    chance = "" if math.isnan(risk) else f", {_hundred(risk)} in 100"
    more = f"; {warned} more {'was' if warned == 1 else 'were'} warned already" if warned else ""
    return (
        f"the chance that each is loose within a quarter is {_hundred(limit)} in 100 or more{batch}"
        f"{_of_sample(sampled_shafts)}; first {who}{chance}{more}"
    )


def _silently_loose(
    *, loose: float, hubs: int, sampled_shafts: int | None, first: int, first_loose: float | None
) -> str:
    held = f"; the first {first} to be warned hold {about(first_loose)}" if first and first_loose is not None else ""
    return (
        f"{about(loose)} of {count(hubs, 'hub')} in use{_of_sample(sampled_shafts)} may be loose "
        f"already without word{held}"
    )


def _owners(hubs: int, *, more: str = "") -> str:
    return f"the owner{'s' if hubs != 1 else ''} of {hubs} {more}{'hub' if hubs == 1 else 'hubs'}"


def _withdrawn(*, hubs: int, untold: int, unheard: int, why: str | None) -> str:
    warned = "all their owners were warned" if not untold else f"the owners of {untold} were not yet warned"
    parts = [f"{hubs} in use, {warned}"] if hubs else []
    parts += [f"{unheard} sent without word since"] if unheard else []
    return "; ".join([f"withdrawn{f' ({why})' if why else ''}", *parts])


def _of_batch(finding: str) -> Callable[..., str]:
    """Put to a finding of a batch where the batch went."""

    def told(*, went_to: Sequence[str], **facts: object) -> str:
        more = len(went_to) - _MOST_SHAFTS
        shafts = ", ".join([*went_to[:_MOST_SHAFTS], *([f"and {count(more, 'other')}"] if more > 0 else [])])
        return f"{filled(finding, facts)}; {f'it went to {shafts}' if shafts else 'none of it is in use'}"

    return told


def _gap_at_risk(
    *, gap_um: float, low_um: float | None, high_um: float | None, level: float, months: float, limit: float
) -> str:
    sure = (
        ""
        if low_um is None or high_um is None
        else f" (between {low_um:.0f} and {high_um:.0f}, {100 * level:.0f} % sure)"
    )
    return (
        f"at a gap of {gap_um:.0f} µm{sure} the chance of working loose within {months:g} months is {100 * limit:g} "
        "in 100"
    )


def _group(*, what: str, by: str, group: str) -> str:
    return f"{_WHAT[what]}, {_BY.get(by, by)} {group}"


def _alarm(*, ratio: float, quarters: float | None) -> str:
    often = "hardly ever" if quarters is None else f"once in {count(round(quarters), 'quarter')}"
    return (
        f"{ratio:.1f} times as many became known as were predicted; such an alarm comes by chance {often}, the model's "
        "own doubt allowed for"
    )


def _sizes_to_make(*, pattern: str, sizes: Iterable[tuple[float, int]]) -> str:
    listed = ", ".join(f"{count} of {print_um(um).partition(' (')[0]}" for um, count in sizes)
    return f"pattern {pattern}, undersize: {listed}"


def _at_risk(gap: str) -> Callable[..., str]:
    """Put to what is said of a gap how long its hub runs, and since when nothing was heard of it."""

    def told(*, months: float, word: str | None, **facts: object) -> str:
        return "; ".join([filled(gap, facts), f"runs {months:.0f} months", *filter(None, [word])])

    return told


def _may_be_loose(how: str) -> Callable[..., str]:
    return lambda days: f"{how}; {count(days, 'day')} overdue" if days else how


_WIDER = "µm wider than they should be, over half a step between sizes"

REVIEW: Final[Mapping[str, str | Callable[..., str]]] = {
    VerdictRemark.QUIET: _quarter("Quiet"),
    VerdictRemark.WATCH_MORE: _quarter("Watch"),
    VerdictRemark.WATCH_FEWER: _quarter("Watch", only="only "),
    VerdictRemark.ALARM: _quarter("Alarm"),
    VerdictRemark.NOTHING_TO_COMPARE: lambda seen, over: (
        f"Cannot be judged: {_seen(seen)}{'' if over else ' so far'}, too little before to compare with"
    ),
    VerdictRemark.NO_HUB: "No hub was in use, as far as is known",
    CallsVerdict.WARN: lambda warn, ask: (
        f"{warn} to warn: stop and check{f'; then {ask} to ask how it holds' if ask else ''}"
    ),
    CallsVerdict.ASK: "nobody to warn; {ask} to ask how it holds",
    CallsVerdict.ASK_BY_DUE_DAY: "the chance of single hubs is not known; {ask} to ask how it holds",
    CallsVerdict.NOBODY: "nobody now: none is known to be at risk, and none is overdue",
    ReturnsRemark.QUIET: _back("Quiet"),
    ReturnsRemark.WATCH_MORE: _back("Watch"),
    ReturnsRemark.WATCH_FEWER: _back("Watch", only="only "),
    ReturnsRemark.NOTHING_TO_COMPARE: lambda quarter, back, over: (
        f"{back or 'none'} came back in {quarter}{'' if over else ' so far'}, nothing before to compare with"
    ),
    ReturnsRemark.NONE_BACK: lambda sent: f"Nothing: none of {sent} sent has come back",
    ReturnsRemark.NOTHING_SENT: "No hub was sent and none came back",
    ReturnsRemark.AT_THE_RATE_BEFORE: "hubs that come back, as many a quarter as in up to four before",
    ActionRemark.BATCH_WITHDRAWN: _withdrawn,
    ActionRemark.OWNERS_TO_WARN: lambda hubs: f"{_owners(hubs)} to stop, and check for rattle before the next start",
    ActionRemark.LIKELY_LOOSE: _likely_loose,
    ActionRemark.BATCH: "batch {batch}",
    ActionRemark.BATCH_WIDE: _of_batch(f"its spaces are {{wider_um:.1f}} {_WIDER} ({{gauged}} gauged)"),
    ActionRemark.BATCH_WIDE_BY_PLUG: _of_batch(
        f"its spaces are {{plug_low_um:.1f}} {_WIDER} (at least, for the go gauge enters)"
    ),
    ActionRemark.BATCH_LOOSE: _of_batch(
        "{failures} of its {hubs:hub/hubs} worked loose, more than of the others by more than chance"
    ),
    ActionRemark.BATCH_AT_ODDS: _of_batch(
        "{gauged} of its hubs were gauged {wider_um:.1f} µm over their size, where its plug gauges leave "
        "{plug_low_um:.1f} to {plug_high_um:.1f}"
    ),
    ActionRemark.SENDING_AS_SUPPLIED: "sending hubs as supplied where the gap left would be over {gap_um:.0f} µm",
    ActionRemark.GAP_AT_RISK: _gap_at_risk,
    ActionRemark.RATE: "the rate of failures",
    ActionRemark.RATE_CHANGED: (
        "it is {ratio:.1f} times that of the quarters before, more than chance (p = {p_value:.3f})"
    ),
    ActionRemark.GROUP: _group,
    ActionRemark.GROUP_CHANGED: (
        "{number} in {hub_months:.0f} hub-months against {before_number} in {before_months:.0f} before, more than "
        "chance though {compared} were compared"
    ),
    ActionRemark.SINCE: "failures since {quarter}",
    ActionRemark.ALARM: _alarm,
    ActionRemark.OWNERS_TO_ASK: lambda hubs: f"{_owners(hubs, more='more ')} how they hold: wearstats calls",
    ActionRemark.SILENTLY_LOOSE: _silently_loose,
    ActionRemark.ASKED_BY_NOW: "they should have been asked by now: 1, 3, 6 and 12 months after fitting, then yearly",
    ActionRemark.LOANS_OVERDUE: "{hubs:hub/hubs} on loan whose day is over",
    ActionRemark.LOAN_LONGEST: lambda **loan: f"first {loan_words(**loan)}; wearstats shelf names all",
    ActionRemark.SIZES_TO_MAKE: _sizes_to_make,
    ActionRemark.SHELF_AND_DEMAND: "of what is on the shelf and what will be asked for until more can be made",
    RiskRemark.WIDE_GAP: _at_risk("gap wider than of {percent:.0f} in 100"),
    RiskRemark.NO_WIDE_GAP: _at_risk("no wide gap"),
    RiskRemark.GAP_NOT_KNOWN: _at_risk("gap not known, taken as those of all others"),
    RiskRemark.SILENT: "no word for {months:.0f} months",
    RiskRemark.NEVER_HEARD: "never heard of since",
    CallRemark.WITHDRAWN: lambda batch, told: f"batch {batch} is withdrawn{'' if told else ', not yet warned'}",
    CallRemark.MAY_BE_LOOSE: _may_be_loose("may be loose, warned"),
    CallRemark.NOT_YET_WARNED: _may_be_loose("may be loose, not yet warned"),
    CallRemark.OVERDUE: "{days:day/days} overdue",
    CallRemark.NOT_YET_DUE: "not yet due",
    CallRemark.RISK: "model of working loose, to be loose within a quarter, already or to come",
    CallRemark.NO_RISK: "nothing is predicted of single hubs",
    ForecastRemark.NO_GAPS: "nothing is known of the gaps that were left",
    ForecastRemark.FEW_FAILURES: "only {failures:failure was/failures were} known by then",
    ForecastRemark.NOT_BY_HUB: "the failures are not predicted hub by hub",
    ForecastRemark.CURRENCIES: "the patterns' prices are in several currencies",
    ForecastRemark.AS_KNOWN_THEN: "predicted as known at the quarter's beginning, of the {hubs:hub/hubs} then in use",
    ForecastRemark.AT_THE_RATE_BEFORE: "failures at the rate of the four quarters before",
    MonitoringRemark.NOTHING_EXPECTED: "no failure was expected yet",
    MonitoringRemark.RATIO_AT_EVERY_LOOK: (
        "negative binomial mixture, holds at every look, the model's doubt in it; {seen:.0f} seen, {expected:.1f} "
        "expected"
    ),
}
