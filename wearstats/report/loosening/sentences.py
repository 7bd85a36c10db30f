"""Whether hubs stay tight, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wearstats.analysis.estimate import may_be_any_share
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.report.loosening.gap_sentences import gap_sentences, play_sentences
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE
from wearstats.report.words.phrases import UNKNOWN, count, in_hundred, months, sentence, sure_share

if TYPE_CHECKING:
    from wearstats.studies.loosening.study import LooseningStudy

METHOD_NAMES = {
    "as-supplied": "as supplied",
    "owner-fitted": "for the owner to fit",
    "workshop-fitted": "already fitted by the workshop",
}


def method_name(method: str) -> str:
    """Name a fitting method in a sentence about what was sent: ``as supplied``."""
    return METHOD_NAMES.get(method, method)


def loosening_sentences(study: LooseningStudy) -> list[str]:
    """Say how many hubs were followed, how many worked loose, how likely that is, and what the silence hides."""
    told = study.on_record
    lines = [
        f"{count(int(told['fittings']), 'hub')} went on a shaft; {count(int(told['followed']), 'was', 'were')} heard "
        f"of again, over {_years(told['hub_months'])} in all, and {told['failures']:.0f} worked loose",
        *_records_end(study),
        *_sample(study),
        _chance(study),
        *_silence(study),
        *_report_delay(study),
        *_difference(study),
        *_left_out(study),
    ]
    return [*(sentence(line) for line in lines), *_gap(study), SURE]


def _records_end(study: LooseningStudy) -> list[str]:
    """Say up to which day what is learned reaches."""
    end = study.outcomes_end
    if end.day >= study.as_of and not end.by_region:
        return []
    because = (
        "as was stated with them"
        if end.stated
        else f"the last word is of {end.last}, and such records reach on for about half a usual pause"
    )
    regions = "; ".join(f"{name} to {day}" for name, day in sorted(end.by_region.items()))
    return [
        f"What became of hubs is taken to be on record up to {end.day} ({because}): later days are not counted as days "
        "without failures",
        *([f"by region records end earlier: {regions}"] if regions else []),
    ]


def _years(hub_months: float) -> str:
    return count(round(hub_months / 12), "hub-year") if hub_months >= 12 else count(round(hub_months), "hub-month")


def _chance(study: LooseningStudy) -> str:
    """Say how many work loose by the horizon; or why that cannot be said, and what could be asked instead."""
    if study.risk.value is not None and not may_be_any_share(study.risk):
        within = f"Within {months(study.horizon_months)} of fitting"
        return f"{within} {sure_share(study.risk, 'hubs')} work loose, all methods together"
    how_many = f"how many work loose within {months(study.horizon_months)} of fitting cannot be told"
    longest = study.everything.followed_to
    if study.risk.value is not None:
        return f"{how_many}: anything from none to all would fit"
    if study.horizon_months <= longest:
        return f"{how_many}: {say(study.risk.method)}"
    if longest < 1.0:
        return f"{how_many}: none of these hubs was heard of later than in its first month; add follow_ups"
    return (
        f"{how_many}: none of these hubs was heard of later than {longest:.0f} months after fitting; ask for a shorter "
        f"time with --horizon-months {math.floor(longest)}, or add follow_ups"
    )


def _sample(study: LooseningStudy) -> list[str]:
    if study.sampled_shafts is None:
        return []
    return [f"what follows is from the hubs of {count(study.sampled_shafts, 'shaft')} taken at random, as good as all"]


def _gap(study: LooseningStudy) -> list[str]:
    """Say what the gap does, or why that cannot be said."""
    play = play_sentences(study.by_play, horizon_months=study.horizon_months)
    if study.gap is None:
        return [sentence(f"How that goes with the gap left cannot be told: {say(study.why_no_gap)}"), *play]
    told = gap_sentences(study.gap, horizon_months=study.horizon_months, risk_limit=study.risk_limit)
    return [*told, *play]


def _silence(study: LooseningStudy) -> list[str]:
    """Say how often failures come in unasked, which the chance above allows for."""
    unasked = study.reported_unasked
    if unasked.value is None:
        return []
    if may_be_any_share(unasked):
        return [f"how often failures are reported unasked {UNKNOWN}"]
    if unasked.status == "assumed":
        return [
            "how often failures are reported unasked, while owners of sound hubs stay silent, cannot be told from "
            f"these data: {in_hundred(unasked.value)} in 100 is assumed"
        ]
    return [
        f"Of failures, {sure_share(unasked, 'are reported unasked')}, while owners of sound hubs stay silent; "
        "the chance above allows for that"
    ]


def _report_delay(study: LooseningStudy) -> list[str]:
    """Say how long before their report hubs came loose, who told that, and what hangs on those who did not."""
    told = study.report_delay
    if told is None or not told.delay.told + told.delay.untold:
        return []
    delay, failures = told.delay, told.delay.told + told.delay.untold
    days = round(delay.mean_months * MEAN_MONTH_DAYS)
    on_average = "on the day of the report" if not days else f"{count(days, 'day')} before the report on average"
    lines = [
        f"Of {count(failures, 'failure')} reported unasked the owner told the day of {delay.told or 'none'}; "
        + (
            f"the hub came loose {on_average}, as is taken of the others"
            if delay.learnt
            else "the others are taken to have come loose within a month before the report, which is assumed"
        )
    ]
    if told.shape is not None and told.shape_at_once is not None and told.shape_late is not None:
        lines.append(
            "the number that says whether hubs loosen more readily as they age (above 1: they do) would be "
            f"{told.shape_at_once:.2f} had all others written on the very day, and {told.shape_late:.2f} within two "
            f"months, in place of {told.shape:.2f}"
        )
    return lines


def _difference(study: LooseningStudy) -> list[str]:
    chance = study.methods_differ_p
    if chance is None:
        return []
    return [
        "If the methods were all alike, curves as far apart as these, or further, would come about by chance in "
        f"{in_hundred(chance)} of 100 such records"
    ]


def _left_out(study: LooseningStudy) -> list[str]:
    number = sum(study.left_out.values())
    if not number:
        return []
    return [
        f"{count(number, 'fitting is', 'fittings are')} left out because the records contradict themselves or cannot "
        "be dated"
    ]
