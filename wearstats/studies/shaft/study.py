"""Which hub to send for one shaft."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.advice.options import AdviceLimits, Evidence, SizeOption, weigh_sizes
from wearstats.analysis.advice.rule import Advice, RiskDemand, advise
from wearstats.analysis.estimate import Z95, Estimate
from wearstats.analysis.gaps.posterior import HubSpace, draw_maps, estimate_draws, fit_draws, hub_space
from wearstats.analysis.gauging.agreement import all_equal, widest_disagreement
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.data import WidthData
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import MapPrediction, predict_maps
from wearstats.analysis.widths.shaft_means import mean_weights, read_alone
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import filing, gap_left
from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.contact_of_fitting import last_fitting_seen
from wearstats.studies.inputs.widths import WidthReadings, read_widths
from wearstats.studies.loosening.remarks import LooseningStudyRemark
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.shaft.answer import Choice, ShaftStudy
from wearstats.studies.shaft.background import shaft_background
from wearstats.studies.shaft.costs import Costing, read_costing
from wearstats.studies.shaft.since_measured import told_since
from wearstats.studies.snapshot import Snapshot, part

RISK_MONTHS = (12.0, 24.0)
Risks = dict[tuple[float, str], tuple[tuple[float, Estimate], ...]]
"""Chances of working loose by undersize and method."""
_SPECIAL_REACH_UM = 400.0


@part("known_on", "models_from", "seed")
def study_shaft(
    snapshot: Snapshot,
    shaft: str,
    *,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    limits: AdviceLimits | None = None,
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

    Returns
    -------
    ShaftStudy

    Raises
    ------
    AnalysisError
        When the shaft is unknown or has no reading.
    """
    limits, draws, background = limits or AdviceLimits(), snapshot.draws, shaft_background(snapshot)
    fit, model, minutes_per_um = background.fit, background.risk, background.minutes_per_um
    readings = _readings_of(snapshot, shaft)
    mine = readings.inspections
    mine = mine[mine["inspection"].isin(readings.moments["inspection"].unique())]
    latest = mine.sort_values(["measured_on", "inspection"])["unit"].iloc[-1]
    in_hand = mine[mine["unit"] == latest].assign(group=lambda rows: rows["group"].iloc[-1])
    data = readings.reduce(in_hand)
    prediction = predict_maps(fit, data)[0]
    pattern = readings.patterns[str(mine["pattern"].iloc[0])]
    maps = draw_maps(prediction, rng=draws.generator("maps", shaft))[0]
    spaces = _spaces_on_offer(snapshot, pattern)
    options = weigh_sizes(maps, spaces, limits=limits, rng=draws.generator("hub to be sent"))
    duty = mine["duty"].iloc[0]
    evidence = _evidence(fit, prediction, data, in_hand, minutes_per_um)
    duty_word = None if pd.isna(duty) else str(duty)
    months = (*RISK_MONTHS, *(() if horizon_months in RISK_MONTHS else (horizon_months,)))
    costing = read_costing(snapshot, pattern.pattern)
    risks = {
        # the same drawn laws for all, so that hubs differ by themselves alone
        (option.undersize_um, method): model.risks(
            option.fit, method=method, duty=duty_word, months=months, rng=draws.generator("laws")
        )
        for option in options
        for method in METHODS
    }
    advice = advise(
        maps,
        options,
        evidence,
        special_um=_special(maps, pattern, spaces, limits=limits, rng=draws.generator("hub to be sent")),
        limits=limits,
        demand=None if model.law is None else _demand(risks, months=horizon_months, limit=risk_limit),
    )
    measured_on = pd.Timestamp(in_hand["measured_on"].max()).date()
    advice = told_since(advice, snapshot, shaft, measured_on=measured_on)
    width = -maps.mean(axis=(1, 2))
    shaft_map = _map(prediction, readings, in_hand, pattern, advice)
    return ShaftStudy(
        as_of=snapshot.known_on,
        shaft=shaft,
        pattern=pattern.pattern,
        inspections=tuple(in_hand["inspection"]),
        width_um_below_new=estimate_draws(width),
        map=shaft_map,
        choices=_choices(options, prediction, pattern, minutes_per_um, risks, costing, limits),
        currency=costing.currency,
        advice=advice,
        cautions=(*_unread(shaft_map), *_cautions(in_hand, fit, pattern, evidence, background.pace_assumed, model)),
        history=_history(readings, mine, fit),
        seen=last_fitting_seen(snapshot, shaft, fit=fit, readings=readings),
    )


def _readings_of(snapshot: Snapshot, shaft: str) -> WidthReadings:
    """Read those of one shaft; AnalysisError where there are none."""
    try:
        return read_widths(snapshot, shafts=[shaft])
    except AnalysisError:
        raise AnalysisError(
            f"no reading of shaft {shaft} was known on {snapshot.known_on.isoformat()}",
            needed="check its name (wearstats store info), or add its readings with: wearstats store add",
        ) from None


def _spaces_on_offer(snapshot: Snapshot, pattern: Pattern) -> dict[float, HubSpace]:
    """List the hubs on offer; where the store does not say, all sizes ever made, or the standard hub."""
    sizes = snapshot.query("stock/sizes_known")
    sizes = sizes[sizes["pattern"] == pattern.pattern]
    offered = sizes[sizes["offered"].astype(bool)]
    undersizes = (offered if len(offered) else sizes)["undersize_um"].tolist() or [0.0]
    return {float(um): hub_space(nominal_um=pattern.space_um(float(um))) for um in undersizes}


def _evidence(
    fit: WidthFit, prediction: MapPrediction, data: WidthData, in_hand: pd.DataFrame, minutes_per_um: float
) -> Evidence:
    places = prediction.shape.places
    average = np.full(places, 1 / places)
    block = data.blocks[0]
    stations = len(prediction.shape.stations)
    read = block.count[0, :, :places].sum(axis=0) + np.tile(
        block.count[0, :, places : places + stations].sum(axis=0), prediction.shape.splines
    )
    return Evidence(
        width_sd_um=float(np.sqrt(average @ prediction.covariance_um2[0] @ average)),
        measured_share=float(np.mean(read > 0)),
        calipers_only=bool((in_hand["class"] == "caliper").all()),
        filing_min_per_um=minutes_per_um,
        places=places,
        disagreement=widest_disagreement(fit, data),
        all_equal=all_equal(data),
        inspections=len(in_hand),
    )


def _special(
    maps: FloatArray,
    pattern: Pattern,
    offered: dict[float, HubSpace],
    *,
    limits: AdviceLimits,
    rng: np.random.Generator,
) -> float | None:
    """Find the loosest undersize on the grid, tighter than all on offer, that is sure to be tight."""
    grid = pattern.grid_um or 10.0
    start = max(offered, default=0.0)
    normal = rng.standard_normal(maps.shape[0])
    for undersize in np.arange(start + grid, start + _SPECIAL_REACH_UM, grid):
        space = hub_space(nominal_um=pattern.space_um(float(undersize)))
        fit = fit_draws(maps, np.asarray(space.mean_um + space.sd_um * normal))
        if float(np.mean(fit.gripped_share >= limits.gripped_share - 1e-9)) >= limits.sure:
            return float(undersize)
    return None


def _demand(risks: Risks, *, months: float, limit: float) -> RiskDemand:
    """Ask that the chance within the horizon be under the limit."""
    at_horizon = {key: dict(told)[months] for key, told in risks.items()}
    return RiskDemand(risks=at_horizon, limit=limit, months=months)


def _choices(
    options: list[SizeOption],
    prediction: MapPrediction,
    pattern: Pattern,
    minutes_per_um: float,
    risks: Risks,
    costing: Costing,
    limits: AdviceLimits,
) -> tuple[Choice, ...]:
    grid = (prediction.shape.splines, len(prediction.shape.stations))
    mean_map = prediction.mean_um[0].reshape(grid)
    choices = []
    for option in options:
        off = filing(mean_map, pattern.space_um(option.undersize_um))
        minutes = minutes_per_um * float(option.fit.total_filing_um.mean())
        for method in METHODS:
            told = risks[option.undersize_um, method]
            choices.append(
                Choice(
                    undersize_um=option.undersize_um,
                    method=method,
                    clearance_um=estimate_draws(option.fit.clearance_um),
                    gap_left_um=estimate_draws(option.fit.gap_left_um),
                    contact_share=estimate_draws(option.fit.contact_share),
                    filing_um=off,
                    filing_min=0.0 if method == "as-supplied" else minutes,
                    risk=told,
                    cost=costing.cost(
                        option.fit, method, minutes_per_um=minutes_per_um, risk=told[0][1], limits=limits
                    ),
                )
            )
    return tuple(choices)


def _map(
    prediction: MapPrediction, readings: WidthReadings, in_hand: pd.DataFrame, pattern: Pattern, advice: Advice
) -> pd.DataFrame:
    splines, stations = prediction.shape.splines, prediction.shape.stations
    mean = prediction.mean_um[0].reshape(splines, len(stations))
    frame = pd.DataFrame(
        {
            "spline": np.repeat(np.arange(1, splines + 1), len(stations)),
            "station": list(stations) * splines,
            "station_index": np.tile(np.arange(len(stations)), splines),
            "width_um_below_new": -mean.ravel(),
            "sd_um": prediction.sd_um[0],
        }
    )
    # the last inspection's splines are numbered as the first one's only where both were marked: others are left out
    first = in_hand["inspection"].iloc[0]
    matched = in_hand[in_hand["marked"] | (in_hand["inspection"] == first)]["inspection"]
    read = readings.moments[readings.moments["inspection"].isin(matched)]
    read = (
        read.assign(total=read["n"] * read["mean_um"])
        .groupby(["spline", "station"], as_index=False)[["n", "total"]]
        .sum()
        .rename(columns={"station": "station_index"})
    )
    read = read.assign(reading_um_below_new=-read["total"] / read["n"])
    frame = frame.merge(read[["spline", "station_index", "reading_um_below_new"]], how="left")
    if advice.undersize_um is None:
        return frame.assign(filing_um=np.nan, gap_left_um=np.nan)
    space = pattern.space_um(advice.undersize_um)
    return frame.assign(filing_um=filing(mean, space).ravel(), gap_left_um=gap_left(mean, space).ravel())


def _history(readings: WidthReadings, mine: pd.DataFrame, fit: WidthFit) -> pd.DataFrame:
    """Say what each inspection by itself tells of the mean width."""
    apart = mine.assign(unit=mine["inspection"], shaft=mine["inspection"])
    weights = {name: mean_weights(shape) for name, shape in readings.shapes.items()}
    told = read_alone(fit, readings.reduce(apart), weights)
    frame = mine[["inspection", "measured_on", "measurer", "class", "hubs_before"]].merge(
        told[["shaft", "value_um", "sd_um"]], left_on="inspection", right_on="shaft"
    )
    frame = frame.assign(
        width_um_below_new=-frame["value_um"],
        low_um_below_new=-frame["value_um"] - Z95 * frame["sd_um"],
        high_um_below_new=-frame["value_um"] + Z95 * frame["sd_um"],
        measured_on=pd.to_datetime(frame["measured_on"]).dt.date,
        hubs_before=frame["hubs_before"].astype(int),
    ).rename(columns={"measurer": "measured_by", "class": "kind"})
    columns = ["inspection", "measured_on", "measured_by", "kind", "hubs_before", "width_um_below_new", "sd_um"]
    return (
        frame[[*columns, "low_um_below_new", "high_um_below_new"]]
        .sort_values(["measured_on", "inspection"], kind="stable")
        .reset_index(drop=True)
    )


def _unread(shaft_map: pd.DataFrame) -> list[str]:
    """Warn of splines on which no place was ever read."""
    read = shaft_map.groupby("spline")["reading_um_below_new"].count()
    unread = int((read == 0).sum())
    were = "was" if unread == 1 else "were"
    return [f"{unread} of {len(read)} splines {were} never read, and so only guessed from the others"] if unread else []


def _cautions(
    in_hand: pd.DataFrame,
    fit: WidthFit,
    pattern: Pattern,
    evidence: Evidence,
    pace_assumed: bool,
    model: RiskModel,
) -> tuple[Remark | str, ...]:
    cautions: list[Remark | str] = [
        f"All readings of inspection {name} are the same: ask whether each spline was measured"
        for name in evidence.all_equal
    ]
    if pattern.register_mm is not None and in_hand["register_mm"].isna().all():
        cautions.append("The register was not measured: whether the hub runs true cannot be judged from the splines")
    if len(in_hand) == 1:
        cautions.append(
            "Only one inspection is in hand: what its measurer reads too large or too small, all its readings share"
        )
    if in_hand["check_um"].isna().all() and (in_hand["class"] == "home").all():
        cautions.append(
            "No check piece was measured, so the owner's bias is allowed for only by what owners usually do"
        )
    held = [name for name, estimate in fit.components_um.items() if estimate.status == "assumed" and "home" in name]
    if held:
        cautions.append("How far owners' readings can be trusted is assumed, not learnt from this store's readings")
    if pace_assumed:
        cautions.append("The minutes of filing are a guess: too few fittings on record say how long theirs took")
    if model.law is None:
        cautions.append(remark(LooseningStudyRemark.GEOMETRY_ALONE, why=model.why_not))
    return tuple(cautions)
