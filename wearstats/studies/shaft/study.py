"""Which hub to send for one shaft: what comes first, what would be sent then, and why."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy import special

from wearstats.analysis.advice.gate import ShaftFacts, StrayReading, pass_gate
from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.remarks import NO_HUB, NO_SIZE, Finding, First, Reason
from wearstats.analysis.advice.rule import Decision
from wearstats.analysis.gaps.posterior import draw_maps, estimate_draws
from wearstats.analysis.numerics.even_draws import even_normals
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.prediction import MapPrediction, predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import filing
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError
from wearstats.store.left_out import left_out_of
from wearstats.studies.gaps.contact_of_fitting import last_fitting_seen
from wearstats.studies.register.of_shaft import bore_on_record, proud_major, register_of
from wearstats.studies.shaft.answer import Advice, Choice, ShaftStudy
from wearstats.studies.shaft.background import ShaftBackground, shaft_background
from wearstats.studies.shaft.costs import Costing, costing_of
from wearstats.studies.shaft.facts import with_records
from wearstats.studies.shaft.options import options_for
from wearstats.studies.shaft.readings import facts_of_readings, without_strays
from wearstats.studies.shaft.records import shaft_records
from wearstats.studies.shaft.remarks import ShaftRemark
from wearstats.studies.shaft.tables import history_of, map_of
from wearstats.studies.shaft.weighing import Scale, Weighing
from wearstats.studies.snapshot import Snapshot, part

RISK_MONTHS = (12.0, 24.0)
WEAR_A_YEAR_UM = (4.0, 6.0)
"""Mean and spread of what a hub that holds takes off a shaft in a year of running (judgement)."""
_SAME_COST = 0.05
_MEANT = 3
LOG2_DRAWS = 9
"""Binary logarithm of the draws of map, hub and law together."""


def names_in_use(snapshot: Snapshot, shafts: Sequence[str]) -> list[str]:
    """Give the names by which shafts go on the day asked about, of names some of which may stand for others."""
    standing = snapshot.query("shaft/stands_for", shafts=list(shafts)).set_index("name")["stands_for"]
    return [str(standing.get(name, name)) for name in shafts]


@part("known_on", "models_from", "seed")
def study_shaft(
    snapshot: Snapshot,
    shaft: str,
    *,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    limits: AdviceLimits | None = None,
    wanted: bool = False,
    by_number: bool = True,
    among: tuple[str, ...] = (),
) -> ShaftStudy:
    """Answer which hub to send for a shaft.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    shaft : str
        Its name.
    horizon_months, risk_limit : float
        The chance of working loose that is accepted within that time.
    limits : AdviceLimits, optional
        The shop's settings.
    wanted : bool
        Whether a hub is asked for although one is on it and holds.
    by_number : bool
        Whether hubs on the shelf are told by number; not where many shafts are asked about at once.
    among : tuple of str
        All shafts that are asked about in turn, so that their records are read once for all; only this one if empty.

    Returns
    -------
    ShaftStudy

    Raises
    ------
    AnalysisError
        When the shaft is unknown or has no reading.
    """
    (shaft,) = names_in_use(snapshot, [shaft])
    background = shaft_background(snapshot)
    records = shaft_records(snapshot, among or (shaft,))
    readings = records.readings.get(shaft)
    if readings is None:
        raise _unread_shaft(snapshot, shaft)
    mine = readings.inspections
    mine = mine[mine["inspection"].isin(readings.moments["inspection"].unique())]
    latest = mine.sort_values(["measured_on", "inspection"])["unit"].iloc[-1]
    in_hand = mine[mine["unit"] == latest].assign(group=lambda rows: rows["group"].iloc[-1])
    pattern = readings.patterns[str(mine["pattern"].iloc[0])]
    limits = (limits or AdviceLimits()).with_deepest(pattern.deepest_um)
    prediction = predict_maps(background.fit, readings.reduce(in_hand))[0]
    facts = facts_of_readings(background.fit, prediction, readings.reduce(in_hand), readings, in_hand)
    facts = with_records(facts, records, shaft, known_on=snapshot.known_on, background=background, wanted=wanted)
    duty = mine["duty"].iloc[0]
    # nothing is known beyond the record, and what has worked loose by its end has not come tight again after it
    known_to = horizon_months if background.risk.law is None else background.risk.followed_months
    horizon = min(horizon_months, known_to)
    # what most hangs on comes first: the hub, what came off since, the law, and of the map its widest direction
    before = 2 + background.risk.size
    size = before + prediction.shape.places
    normal = even_normals(snapshot.draws, "shaft", [shaft], log2_count=LOG2_DRAWS, size=size)[0]
    scale = Scale(
        hub_normal=normal[:, 0],
        law_normal=normal[:, 2:before],
        model=background.risk,
        hand=background.hand,
        costing=costing_of(snapshot, pattern.pattern),
        limits=limits,
        duty=None if pd.isna(duty) else str(duty),
        horizon_months=horizon,
        risk_limit=risk_limit,
    )

    worn = _worn_since(facts, snapshot, normal[:, 1])
    register = register_of(in_hand, background.fit, pattern)

    def weighed(told: MapPrediction) -> Weighing:
        maps = draw_maps(told, normal[None, :, before:])[0] - worn[:, None, None]
        options = options_for(snapshot, pattern, maps, limits=limits, by_number=by_number, register=register)
        return scale.weigh(maps, options)

    weighing = weighed(prediction)
    if facts.strays:
        trusted = without_strays(readings, facts.strays)
        told = predict_maps(background.fit, trusted.reduce(in_hand))[0]
        other = weighed(told)
        facts = replace(facts, strays=_that_matter(facts.strays, weighing.decision, other.decision))
        if any(stray.matters for stray in facts.strays):
            prediction, weighing = told, other
    gate = pass_gate(facts, limits=limits)
    saved = scale.saved_by_measuring(weighing, background.fit)
    if not gate and weighing.decision.chosen is not None and saved > 0:
        gate = [(First.MEASURE_FIRST, _worth_measuring(facts, saved, scale.costing))]
    advice = _advice(gate, weighing.decision, facts)
    shaft_map = map_of(prediction, readings, in_hand, pattern, advice.hub)
    bore: tuple[Remark, ...] = ()
    if advice.hub is not None and register is not None:
        bore = register.over(bore_on_record(snapshot, advice.hub.hub))
    mine_now = set(in_hand["inspection"])
    majors = [float(row["major_mm"]) for row in records.rows("shaft/majors", shaft) if row["inspection"] in mine_now]
    forbidden = advice.first in NO_HUB
    return ShaftStudy(
        as_of=snapshot.known_on,
        shaft=shaft,
        pattern=pattern.pattern,
        inspections=tuple(in_hand["inspection"]),
        measured_on=facts.measured_on,
        # what the readings say, as the map does; the hubs are weighed on what is left of it by now
        width_um_below_new=estimate_draws(-weighing.width_um - worn),
        map=shaft_map,
        choices=() if forbidden else _choices(weighing, prediction, scale),
        risk_limit=risk_limit,
        horizon_months=horizon,
        currency=scale.costing.currency,
        assumed_prices=scale.costing.assumed,
        advice=advice,
        measuring_saves=saved,
        holds_at_half_and_double=None if advice.hub is None else _robust(scale, weighing),
        register=register,
        bore=bore[0] if bore else None,
        cautions=(
            *bore[1:],
            *proud_major(majors, pattern),
            *([remark(ShaftRemark.HORIZON_CUT, months=horizon)] if horizon < horizon_months else []),
            # no record says how much was filed off too far, only that some hubs were
            *([remark(ShaftRemark.ERROR_ASSUMED, share=background.hand.error_share)] if advice.hub is not None else []),
            *_careless(advice, background),
            *_unread(shaft_map),
            *_cautions(in_hand, pattern, facts, background, scale.costing, float(worn.mean())),
        ),
        remarks=facts.remarks,
        history=history_of(readings, mine, background.fit),
        seen=last_fitting_seen(
            snapshot, records.rows("fittings/last_fitting", shaft), fit=background.fit, readings=readings
        ),
        maps_um=weighing.maps_um + worn[:, None, None] if by_number else None,
    )


def _unread_shaft(snapshot: Snapshot, shaft: str) -> AnalysisError:
    """Say that there are no readings of a shaft, and which name may have been meant."""
    if (left := left_out_of(snapshot.store, shaft)) is not None:
        raise left.refusal()
    names = snapshot.query("shaft/measured", pattern=None)["shaft"].astype(str).tolist()
    begun = [name for name in names if name.lower().startswith(shaft.lower())]
    meant = (begun or difflib.get_close_matches(shaft, names, n=_MEANT, cutoff=0.6))[:_MEANT]
    return AnalysisError(
        f"no reading of shaft {shaft} was known on {snapshot.known_on.isoformat()}",
        needed=(f"did you mean {' or '.join(meant)}? Else " if meant else "")
        + "check its name (wearstats store info) and the rows kept out (wearstats store rejects), or add its "
        "readings with: wearstats store add",
    )


def _worn_since(facts: ShaftFacts, snapshot: Snapshot, normal: FloatArray) -> FloatArray:
    """Draw what a hub that ran since the last reading took off, shape (draws,); nothing where none ran."""
    if facts.ran is None:
        return np.zeros_like(normal)
    since = max(facts.ran.fitted_on or facts.measured_on, facts.measured_on)
    years = max((snapshot.known_on - since).days, 0) / 365.25
    mean, sd = WEAR_A_YEAR_UM
    # a gamma wear: never negative, and its spread grows with its mean as that of a sum does
    shape = years * (mean / sd) ** 2
    if shape <= 0:
        return np.zeros_like(normal)
    return np.asarray(sd**2 / mean * special.gammaincinv(shape, special.ndtr(normal)))


def _that_matter(strays: tuple[StrayReading, ...], with_them: Decision, without: Decision) -> tuple[StrayReading, ...]:
    """Tell whether the hub, or its cost, would be another without the readings that hardly belong."""
    one, other = with_them.chosen, without.chosen
    if one is None or other is None:
        matters = one is not other
    else:
        matters = (one.undersize_um, one.method) != (other.undersize_um, other.method)
        worth = [(one.minutes, other.minutes)]
        if one.cost.value is not None and other.cost.value is not None:
            worth.append((one.cost.value, other.cost.value))
        matters |= any(abs(a - b) > _SAME_COST * max(a, b) for a, b in worth)
    return tuple(replace(stray, matters=bool(matters)) for stray in strays)


def _worth_measuring(facts: ShaftFacts, saved: float, costing: Costing) -> Remark:
    ran = None if facts.ran is None else facts.ran.hub
    return remark(Finding.WORTH_MEASURING, saves=saved, price=costing.measure_again, currency=costing.currency, hub=ran)


def _advice(gate: list[tuple[First, Remark]], decision: Decision, facts: ShaftFacts) -> Advice:
    """Put the gate before the rule: what comes first, and what would be sent then."""
    if not gate and any(told.code == Reason.NO_HUB_HOLDS and "least" in told.facts for told in decision.because):
        gate = [(First.SEND_SHAFT_HERE, decision.because[0])]
    first = gate[0][0] if gate else None
    if first in NO_HUB or any(told.code in NO_SIZE for _, told in gate):
        # a reason for a hub that is not named would name it all the same
        decision = Decision(chosen=None)
    small = tuple(
        remark(Finding.STRAY_READING, inspection=each.inspection, spline=each.spline, station=each.station,
               found_um=each.found_um, expected_um=each.expected_um, why=each.why)
        for each in facts.strays
        if not each.matters
    )  # fmt: skip
    because = (*(told for _, told in gate), *decision.because)
    second = next((later for later, _ in gate if later not in (first, First.NOTHING_TO_SEND)), None)
    return Advice(first=first, second=second, then=decision, because=because, beside=small)


def _robust(scale: Scale, weighing: Weighing) -> bool | None:
    """Whether the same hub would be chosen were a failure half or twice as dear; None where its price is known."""
    if "failure" not in scale.costing.assumed or weighing.decision.chosen is None:
        return None
    chosen = weighing.decision.chosen
    others = [scale.decided(weighing.maps_um, weighing.weighed, times=times).decision.chosen for times in (0.5, 2.0)]
    return all(each is not None and each.undersize_um == chosen.undersize_um for each in others)


def _choices(weighing: Weighing, prediction: MapPrediction, scale: Scale) -> tuple[Choice, ...]:
    mean_map = prediction.mean_um[0].reshape(prediction.shape.splines, len(prediction.shape.stations))
    months = tuple(dict.fromkeys((*RISK_MONTHS, scale.horizon_months)))
    choices = []
    for weighed, candidate in zip(weighing.weighed, weighing.candidates, strict=True):
        told = scale.model.risks(
            weighed.fit, method=weighed.method, duty=scale.duty, months=months, normal=scale.law_normal
        )
        choices.append(
            Choice(
                candidate=candidate,
                clearance_um=estimate_draws(weighed.fit.clearance_um),
                gap_left_um=estimate_draws(weighed.fit.gap_left_um),
                contact_share=estimate_draws(weighed.fit.contact_share),
                filing_um=filing(mean_map, weighed.option.space.mean_um),
                risk=told,
            )
        )
    return tuple(choices)


def _careless(advice: Advice, background: ShaftBackground) -> list[Remark]:
    """Say how often hubs were filed too far, where that is on record and a hub is named."""
    chance = background.hand.careless
    return [remark(ShaftRemark.CARELESS, chance=chance)] if chance and advice.hub is not None else []


def _unread(shaft_map: pd.DataFrame) -> list[Remark]:
    """Warn of splines on which no place was ever read."""
    read = shaft_map.groupby("spline")["reading_um_below_new"].count()
    unread = int((read == 0).sum())
    return [remark(ShaftRemark.UNREAD, unread=unread, splines=len(read))] if unread else []


def _cautions(
    in_hand: pd.DataFrame,
    pattern: Pattern,
    facts: ShaftFacts,
    background: ShaftBackground,
    costing: Costing,
    worn_um: float,
) -> tuple[Remark, ...]:
    cautions = [remark(ShaftRemark.ALL_EQUAL, inspection=name) for name in facts.all_equal]
    if facts.ran is not None:
        cautions.append(remark(ShaftRemark.WORN_SINCE, hub=facts.ran.hub, worn_um=worn_um))
    if pattern.register_mm is not None and in_hand["register_mm"].isna().all():
        cautions.append(remark(ShaftRemark.NO_REGISTER))
    if len(in_hand) == 1:
        cautions.append(remark(ShaftRemark.ONE_INSPECTION))
    if in_hand["check_um"].isna().all() and (in_hand["class"] == "home").all():
        cautions.append(remark(ShaftRemark.NO_CHECK_PIECE))
    components = background.fit.components_um.items()
    if any(estimate.status == "assumed" and "home" in name for name, estimate in components):
        cautions.append(remark(ShaftRemark.TRUST_ASSUMED))
    if background.hand.pace_assumed:
        cautions.append(remark(ShaftRemark.PACE_ASSUMED))
    if costing.why_not is not None:
        cautions.append(costing.why_not)
    if costing.assumed:
        cautions.append(remark(ShaftRemark.PRICES_ASSUMED, items=costing.assumed, currency=costing.currency))
    if background.risk.law is None:
        cautions.append(remark(ShaftRemark.NO_MODEL, why=background.risk.why_not))
    return tuple(cautions)
