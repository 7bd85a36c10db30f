"""How fast shafts wear as they run, and when each will need the next undersize."""

from __future__ import annotations

import dataclasses
import datetime
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Z95, Estimate, assumed, no_estimate
from wearstats.analysis.growth.fit import (
    BETWEEN,
    GrowthFit,
    GrowthStates,
    compare_ages,
    fit_growth,
)
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.domain.tables import SCRAPPED, WIDTH_CHANGES
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.histories import read_together, sampled_histories
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.inputs.width_fit import SAMPLE_SHAFTS, width_fit
from wearstats.studies.snapshot import Snapshot, part
from wearstats.studies.wear.growth_states import ReadStates, read_states
from wearstats.studies.wear.next_size import NO_RATE, most_hours, next_sizes, predict_needs, sizes_on_offer
from wearstats.studies.wear.remarks import WearStudyRemark

MOST_SINGLE_SHAFTS = 2000
"""Of the shafts looked at in one state only, so many are compared, taken at random; may be lowered: `sample_limits`."""

GROWTH_SHAFTS = 10_000
"""Of a large fleet, so many shafts of the sample show how fast shafts wear."""

_BAND_STEPS = 25
_CHECK_HOURS = "check the hours of the inspections (column hours): of one shaft they may only rise"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrowthStudy:
    """The answer.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    shafts, shafts_again : int
        Shafts with hours; those of them that ran between two looks.
    growth : Estimate
        um per 1000 h while the hub stays tight; of all hubs where too few are known to have stayed tight, and from the
        comparison of shafts, ``assumed``, where too few were measured again.
    growth_of : str
        Which of the three: ``tight``, ``all``, ``ages``.
    by_duty : dict of str to Estimate
        The same by duty, whatever the hub did; ``assumed`` where it rests on the comparison of shafts.
    by_between : dict of str to Estimate
        By how the hub was that ran in between: ``tight``, ``loose`` (found so; it was for a part of these hours only),
        ``not known``.
    loose_minus_tight : Estimate
        How much faster with a hub that was found loose.
    while_loose : Estimate
        um per 1000 h of the hours in which a hub was loose; ``assumed``, since when it worked loose is.
    by_age : Estimate
        From the comparison of shafts, always ``assumed``.
    own_rate_sd, residual_sd : Estimate
        Spread of the shafts' own rates, um per 1000 h; what is left of a state's wear, um.
    hours_on_record : dict of str to float
        By duty, the most hours at which a shaft was looked at that counts for `growth`; nothing is predicted beyond.
    left_out : dict of Remark to int
        States that could not be used, by reason.
    by_pattern : dict of str to GrowthStudy
        The same for each pattern, where there are several.
    points : DataFrame
        One row a state of a shaft: ``pattern``, ``shaft``, ``series`` (a shaft until something was done to it),
        ``duty``, ``state``, ``measured_on``, ``inspections``, ``hours_h``, ``wear_um``, ``sd_um``, ``between`` (how
        the hub was since the state before; empty for the first), and since the first state of the series ``since_h``,
        ``lost_um``, ``lost_sd_um`` and the ends of its interval at 95 %, ``lost_low_um`` and ``lost_high_um``.
    band : DataFrame
        What is lost in so many hours: ``between``, ``since_h``, ``lost_um``, ``low_um``, ``high_um``.
    needed : DataFrame
        One row a shaft with hours: `NEEDED_COLUMNS`; hours from its last look until the next undersize goes on.
    """

    as_of: datetime.date
    pattern: str | None
    shafts: int
    shafts_again: int
    growth: Estimate
    growth_of: str
    by_duty: dict[str, Estimate]
    by_between: dict[str, Estimate]
    loose_minus_tight: Estimate
    while_loose: Estimate
    by_age: Estimate
    own_rate_sd: Estimate
    residual_sd: Estimate
    hours_on_record: dict[str, float]
    left_out: dict[Remark, int]
    by_pattern: dict[str, GrowthStudy]
    points: Annotated[
        pd.DataFrame,
        columns(
            text="pattern shaft series duty between",
            number="hours_h wear_um sd_um since_h lost_um lost_sd_um lost_low_um lost_high_um",
            whole="state inspections",
            day="measured_on",
        ),
    ]
    band: Annotated[pd.DataFrame, columns(text="between", number="since_h lost_um low_um high_um")]
    needed: Annotated[
        pd.DataFrame,
        columns(
            text="pattern shaft duty status",
            number=(
                "hours_h width_um_below_new sd_um next_undersize_um further_um needed_h needed_low_h needed_high_h"
            ),
            any="words",
        ),
    ]

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        document: dict[str, Any] = {
            "pattern": self.pattern,
            "shafts": self.shafts,
            "shafts_measured_again": self.shafts_again,
            "growth_um_per_1000h": self.growth,
            "growth_of": self.growth_of,
            "by_duty": self.by_duty,
            "by_between": self.by_between,
            "loose_minus_tight_um_per_1000h": self.loose_minus_tight,
            "while_loose_um_per_1000h": self.while_loose,
            "by_age_um_per_1000h": self.by_age,
            "own_rate_sd_um_per_1000h": self.own_rate_sd,
            "residual_sd_um": self.residual_sd,
            "hours_on_record_h": self.hours_on_record,
            "left_out": self.left_out,
            "next_undersize": self.needed,
        }
        return document | ({"by_pattern": self.by_pattern} if self.by_pattern else {})


@part("known_on", "models_from", "pattern", "seed", kept=True)
def study_growth(snapshot: Snapshot, *, each_pattern: bool = True) -> GrowthStudy:
    """Answer how fast shafts wear as they run.

    Parameters
    ----------
    each_pattern : bool
        Whether to give the same for each pattern, where there are several.

    Returns
    -------
    GrowthStudy

    Raises
    ------
    AnalysisError
        With no reading, or when no shaft has hours.
    """
    _require_hours(snapshot)
    read, needs = growth_records(snapshot)
    patterns = sorted(set(read.every["pattern"]))
    if snapshot.pattern is not None:
        if snapshot.pattern not in patterns:
            raise AnalysisError(
                f"no shaft of pattern {snapshot.pattern} has running hours that agree", needed=_CHECK_HOURS
            )
        return _answer(*_of_pattern(read, needs, snapshot.pattern), snapshot)
    whole = _answer(read, needs, snapshot)
    if len(patterns) == 1 or not each_pattern:
        return whole
    inner = {name: _answer(*_of_pattern(read, needs, name), snapshot.of(name)) for name in patterns}
    return dataclasses.replace(whole, by_pattern=inner)


@part("known_on", "models_from", "seed", kept=True)
def growth_records(snapshot: Snapshot) -> tuple[ReadStates, pd.DataFrame]:
    """Give the states of all shafts with hours, and what each needs next.

    Of a large fleet these are some shafts of the width model's sample.
    """
    fitted = width_fit(snapshot)
    sampled = fitted.readings.of_shafts is not None
    if sampled:
        some = fitted.readings.some(lowered(GROWTH_SHAFTS, part_of=SAMPLE_SHAFTS))
        fitted = dataclasses.replace(fitted, readings=some)
    shafts = fitted.readings.inspections["shaft"].unique().tolist()
    ran = (
        read_together(snapshot.store, as_of=snapshot.known_on, shafts=shafts)
        if sampled
        else sampled_histories(snapshot)
    ).ran
    most = lowered(MOST_SINGLE_SHAFTS, part_of=SAMPLE_SHAFTS)
    read = read_states(snapshot, fitted, ran, most_shafts=most)
    if read is None:
        raise AnalysisError(
            "the running hours on record contradict each other on every shaft",
            needed=_CHECK_HOURS,
        )
    sizes = sizes_on_offer(snapshot, fitted.readings.patterns)
    return read, _still_there(next_sizes(sizes, fitted, read, ran), snapshot.query("wear/events", shafts=None))


def _still_there(needs: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """Leave out the shafts that were scrapped, or made another width, since they were last measured."""
    ends = events[events["what"].isin([*WIDTH_CHANGES, SCRAPPED])]
    later = needs[["shaft", "measured_on"]].merge(ends[["shaft", "happened_on"]], on="shaft")
    gone = later.loc[later["happened_on"] > later["measured_on"], "shaft"]
    return needs[~needs["shaft"].isin(gone)]


def _require_hours(snapshot: Snapshot) -> None:
    """Raise an AnalysisError where no shaft has hours, before anything is fitted."""
    known, pattern = snapshot.query("wear/hours_known").iloc[0], snapshot.pattern
    if known["inspections"] and not known["with_hours"]:
        raise AnalysisError(
            "no shaft has running hours beside its readings" + (f" of pattern {pattern}" if pattern else ""),
            needed="write the engine's hours on its inspections (column hours), each time the shaft is measured",
        )


def _of_pattern(read: ReadStates, needs: pd.DataFrame, pattern: str) -> tuple[ReadStates, pd.DataFrame]:
    table = read.table[read.table["pattern"] == pattern]
    rows = np.sort(table["row"].unique())
    place = pd.Series(np.arange(rows.size), index=rows)
    states = ReadStates(
        table=table.assign(row=table["row"].map(place).to_numpy()).reset_index(drop=True),
        growth=read.growth.take(rows),
        split_h=read.split_h[rows],
        every=read.every[read.every["pattern"] == pattern],
        left_out={},
    )
    return states, needs[needs["pattern"] == pattern]


def _answer(read: ReadStates, needs: pd.DataFrame, snapshot: Snapshot) -> GrowthStudy:
    states = read.growth
    fits = {by: _fit(states, by) for by in ("all", "between", "duty")}
    by_between = {name: _rate(fits["between"], name) for name in BETWEEN}
    base, growth_of = (fits["between"], "tight") if by_between["tight"].value is not None else (fits["all"], "all")
    by_age = compare_ages(states)
    counted = states if base is None else base.states
    told = fits["between"]
    both = told is not None and {"tight", "loose"} <= set(told.names)
    return GrowthStudy(
        as_of=snapshot.known_on,
        pattern=snapshot.pattern,
        shafts=int(read.every["shaft"].nunique()),
        shafts_again=len(set(states.shaft[states.span_h > 0])),
        growth=by_age if base is None else _rate(base, growth_of),
        growth_of="ages" if base is None else growth_of,
        by_duty=_by_duty(states, fits["duty"]),
        by_between=by_between,
        loose_minus_tight=(told.difference("loose", "tight") if told is not None and both else no_estimate(NO_RATE)),
        while_loose=_while_loose(states, read.split_h),
        by_age=by_age,
        own_rate_sd=no_estimate(NO_RATE) if base is None else base.own_rate_sd,
        residual_sd=no_estimate(NO_RATE) if base is None else base.residual_sd,
        hours_on_record={str(duty): most_hours(counted, duty) for duty in np.unique(counted.duty)},
        left_out=read.left_out,
        by_pattern={},
        points=_points(read),
        band=_band(fits["between"] if growth_of == "tight" else fits["all"]),
        needed=predict_needs(needs, base, growth_of),
    )


def _fit(states: GrowthStates, by: str) -> GrowthFit | None:
    """Fit the rates within shafts; None where too few were measured again."""
    try:
        return fit_growth(states, by=by)
    except AnalysisError:
        return None


def _rate(fit: GrowthFit | None, name: str) -> Estimate:
    """Look up a rate; no number where it is not told."""
    return fit.rates[name] if fit is not None and name in fit.names else no_estimate(NO_RATE)


def _while_loose(states: GrowthStates, split_h: FloatArray) -> Estimate:
    """Give the rate of the hours in which hubs were loose, taken to be the later half of the time nobody looked."""
    rate = _rate(_fit(dataclasses.replace(states, between_h=split_h), "between"), "loose")
    if rate.value is None:
        return rate
    return assumed(rate.value, low=rate.low, high=rate.high, why=remark(WearStudyRemark.MIDWAY))


def _by_duty(states: GrowthStates, fit: GrowthFit | None) -> dict[str, Estimate]:
    """Give the rate of every duty; where too few were measured again, from the comparison of its shafts."""
    duties = [str(duty) for duty in np.unique(states.duty)]
    told = () if fit is None else fit.names
    return {
        duty: _rate(fit, duty) if duty in told else compare_ages(states.take(states.duty == duty)) for duty in duties
    }


def _points(read: ReadStates) -> pd.DataFrame:
    table, states = read.table, read.growth
    row, state = table["row"].to_numpy(dtype=np.int64), table["state"].to_numpy(dtype=np.int64)
    error = states.own_error_um2 + states.shared_error_um @ np.swapaxes(states.shared_error_um, 1, 2)
    variance = error[row, state, state] + error[row, 0, 0] - 2 * error[row, state, 0]
    lost, lost_sd = table["wear_um"] - states.wear_um[row, 0], np.sqrt(np.maximum(variance, 0.0))
    return pd.DataFrame(
        {
            **{name: table[name] for name in ("pattern", "shaft", "series", "duty", "state", "measured_on")},
            "inspections": table["inspections"],
            "hours_h": table["hours"],
            "wear_um": table["wear_um"],
            "sd_um": table["sd_um"],
            "between": table["between"],
            "since_h": table["hours"] - states.hours_h[row, 0],
            "lost_um": lost,
            "lost_sd_um": lost_sd,
            "lost_low_um": lost - Z95 * lost_sd,
            "lost_high_um": lost + Z95 * lost_sd,
        }
    )


def _band(fit: GrowthFit | None) -> pd.DataFrame:
    """Mean growth with its interval, as far as any shaft of the kind has run between its looks."""
    columns = ["between", "since_h", "lost_um", "low_um", "high_um"]
    if fit is None:
        return pd.DataFrame(columns=columns)
    frames = []
    for name in fit.names:
        rate = fit.rates[name]
        hours = fit.states.between_h
        ran = hours.sum(axis=2) if name == "all" else hours[..., BETWEEN.index(name)]
        since = np.linspace(0.0, float(np.where(fit.states.seen, ran, 0.0).max()), _BAND_STEPS)
        per_h = [(np.nan if end is None else end) / 1000 for end in (rate.value, rate.low, rate.high)]
        frames.append(
            pd.DataFrame(
                {
                    "between": name,
                    "since_h": since,
                    "lost_um": since * per_h[0],
                    "low_um": since * per_h[1],
                    "high_um": since * per_h[2],
                }
            )
        )
    return pd.concat(frames, ignore_index=True)
