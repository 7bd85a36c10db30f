"""How far the measurements can be trusted, and what is worth asking an owner for."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, fields, replace
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Z95, Estimate
from wearstats.analysis.gauging.gauge_rr import GaugeStudy
from wearstats.analysis.gauging.measurement_plan import PlanQuality, judge_plan, standard_plans
from wearstats.analysis.gauging.outliers import find_stray_readings
from wearstats.analysis.gauging.paired_inspections import pair_inspections, study_pairs
from wearstats.analysis.gauging.quality import (
    DECISION_WIDTH_UM,
    ClassQuality,
    TradeFigures,
    class_quality,
    grr_percent,
    trade_figures,
)
from wearstats.analysis.remark import Remark
from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthData
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError
from wearstats.studies.gauging.verdict import Ways, judge_ways, ways_of
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.inputs.width_fit import SAMPLE_SHAFTS, data_to_fit, width_components
from wearstats.studies.inputs.widths import WidthReadings
from wearstats.studies.snapshot import Snapshot, part

_USUAL_STEP_UM = 25.0
_TOLD = (
    "measured_at", "gauge_kind", "unit", "step_um", "inspections", "bias_um", "bias_sd_um", "repeatability_um",
)  # fmt: skip
GAUGE_SHAFTS = 15_000
"""Of a large fleet, so many shafts of the sample tell sorts of gauges apart; may be lowered: `sample_limits`."""

_LEAST_INSPECTIONS = 12
"""Inspections with a sort of gauge for it to be told by itself (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeQuality:
    """How good the measurements with one sort of gauge are.

    Parameters
    ----------
    measured_at : {"home", "workshop", "caliper"}
        Who measured.
    gauge_kind, unit : str
        The sort of gauge and the unit it was read in.
    step_um : float
        Its resolution.
    quality : ClassQuality
        From a fit that leaves out the other gauges of the same class.
    """

    measured_at: str
    gauge_kind: str
    unit: str
    step_um: float
    quality: ClassQuality

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        told = {each.name: getattr(self, each.name) for each in fields(self)}
        quality = told.pop("quality")
        return told | {each.name: getattr(quality, each.name) for each in fields(quality)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GaugingStudy:
    """The answer.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    by_class : dict of str to ClassQuality
        Home, workshop and, where there are any, calipers.
    by_gauge : tuple of GaugeQuality
        By sort of gauge, where a class used several and each often enough.
    grr_percent : Estimate
        Six standard deviations of one home reading, percent of the decision width.
    figures : dict of str to TradeFigures
        The trade's figures by kind of measuring, from the components.
    gauge_study : GaugeStudy or None
        The same for owners from mean squares, from shafts that two owners measured; None where there are too few.
    strays : DataFrame
        One row a reading, spline or inspection that hardly belongs where it stands; none of them is left out:
        ``inspection``, ``spline``, ``station``, ``found_um``, ``expected_um``, ``why`` (Remark), ``score``.
    plan_pattern : str
        The pattern the plans were worked out for: the commonest.
    size_step_um : float
        The distance between hub sizes that they have to tell apart.
    plans : tuple of PlanQuality
        What each way of measuring at home achieves.
    measurers : DataFrame
        One row a repeated measurer: ``measurer``, ``class``, ``inspections``, ``bias_um``, ``low``, ``high``.
    pieces_out : DataFrame
        One row a check piece that is out, those overdue first: ``piece``, ``sent_on``, ``shaft``, ``owner``,
        ``back_by`` (the last three may be missing), ``overdue``.
    from_shafts, of_shafts : int or None
        Of a large fleet, how many shafts taken at random all this rests on, and how many there are; None where it rests
        on all of them.
    """

    as_of: datetime.date
    by_class: dict[str, ClassQuality]
    by_gauge: tuple[GaugeQuality, ...]
    grr_percent: Estimate
    figures: dict[str, TradeFigures]
    gauge_study: GaugeStudy | None
    strays: Annotated[
        pd.DataFrame, columns(text="inspection station", number="found_um expected_um score", whole="spline", any="why")
    ]
    plan_pattern: str
    size_step_um: float
    plans: tuple[PlanQuality, ...]
    measurers: Annotated[pd.DataFrame, columns(text="measurer class", number="bias_um low high", whole="inspections")]
    pieces_out: Annotated[pd.DataFrame, columns(text="piece shaft owner", day="sent_on back_by", flag="overdue")]
    from_shafts: int | None = None
    of_shafts: int | None = None

    @property
    def ways(self) -> Ways:
        """What could be asked for."""
        return ways_of(self.plans)

    @property
    def verdict(self) -> Remark:
        """What to ask an owner for next."""
        ways, home = self.ways, self.by_class["home"]
        rivals = {code: (each.right_size_probability, each.right_size_se) for code, each in ways.rivals.items()}
        return judge_ways(
            ways.whole.right_size_probability, rivals, assumed=home.bias_sd_um.side() is None or not home.inspections
        )

    def gauges_frame(self) -> pd.DataFrame:
        """One row a sort of gauge: ``measured_at``, ``gauge_kind``, ``unit``, ``step_um``, ``inspections``, estimates.

        ``bias_um``, ``bias_sd_um`` and ``repeatability_um`` are `Estimate` objects.
        """
        return pd.DataFrame([gauge.to_dict() for gauge in self.by_gauge], columns=list(_TOLD))

    def plans_frame(self) -> pd.DataFrame:
        """One row a plan, as in the ``--json`` document."""
        return pd.DataFrame([plan.to_dict() for plan in self.plans])

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {
            "verdict": self.verdict,
            **self.by_class,
            "components_from_shafts": self.from_shafts,
            "of_shafts": self.of_shafts,
            "grr_percent_of_25_um": self.grr_percent,
            "by_gauge": self.by_gauge,
            "figures": self.figures,
            "gauge_study": self.gauge_study,
            "strays": self.strays,
            "decision_width_um": DECISION_WIDTH_UM,
            "plan_pattern": self.plan_pattern,
            "size_step_um": self.size_step_um,
            "plan": self.plans,
            "measurers": self.measurers,
            **({} if self.pieces_out.empty else {"check_pieces_out": self.pieces_out}),
        }


@part("known_on", "models_from", "pattern", "seed", kept=True)
def study_gauging(snapshot: Snapshot, *, short: bool = False) -> GaugingStudy:
    """Answer how far the measurements can be trusted.

    Parameters
    ----------
    short : bool
        Whether only what the short answer says is asked for: not each sort of gauge by itself.

    Returns
    -------
    GaugingStudy
        Of one pattern: how well people measure is learnt from all patterns, what was measured is that pattern's.

    Raises
    ------
    AnalysisError
        With no reading.
    """
    fitted = width_components(snapshot)
    readings, data, fit = fitted.readings, fitted.data, fitted.fit
    mine = readings.of_pattern(snapshot.pattern)
    by_class = {
        kind: class_quality(fit, data, kind)
        for kind in CLASSES
        if kind != "caliper" or data.inspections["class"].eq(kind).any()
    }
    shape = _commonest(mine)
    step = _size_step(snapshot, shape)
    home = mine.inspections.loc[mine.inspections["class"].eq("home"), "step_um"]
    plans = tuple(
        # the same drawn shafts for every plan, so that plans differ by themselves alone
        judge_plan(
            fit,
            shape,
            plan,
            size_step_um=step,
            step_um=float(home.median()) if len(home) else 10.0,
            piece_u_um=data.piece_u_um,
            rng=snapshot.draws.generator("plans"),
        )
        for plan in standard_plans(shape)
    )
    # whatever was left out of the fit is listed
    of_pattern = fitted.as_read.of_pattern(snapshot.pattern).inspections["inspection"]
    strays = find_stray_readings(fitted.as_read.reduce())
    of_gauges = readings if readings.of_shafts is None else readings.some(lowered(GAUGE_SHAFTS, part_of=SAMPLE_SHAFTS))
    return GaugingStudy(
        as_of=snapshot.known_on,
        by_class=by_class,
        by_gauge=() if short else _by_gauge(of_gauges, fit),
        grr_percent=grr_percent(fit, "home"),
        figures={kind: trade_figures(fit, kind) for kind in by_class},
        gauge_study=_gauge_study(data),
        strays=strays[strays["inspection"].isin(of_pattern)].reset_index(drop=True),
        plan_pattern=shape.pattern,
        size_step_um=step,
        plans=plans,
        measurers=_measurers(fit),
        pieces_out=snapshot.query("gauging/pieces_out"),
        from_shafts=fitted.sampled_shafts,
        of_shafts=readings.of_shafts,
    )


def _gauge_study(data: WidthData) -> GaugeStudy | None:
    """Work the trade's figures out from pairs of home inspections, where different hands made enough of them."""
    pairs = pair_inspections(data, kind="home")
    if pairs is None:
        return None
    try:
        return study_pairs(pairs)
    except AnalysisError:
        return None


def _by_gauge(readings: WidthReadings, fit: WidthFit) -> tuple[GaugeQuality, ...]:
    """Fit each sort of gauge by itself, together with all inspections of the other classes, which link the shafts."""
    used = readings.inspections[readings.inspections["inspection"].isin(readings.moments["inspection"].unique())]
    sort = ["class", "gauge_kind", "read_in", "step_um"]
    counts = used.groupby(sort, as_index=False).size()
    counts = counts[(counts["size"] >= _LEAST_INSPECTIONS) & (counts.groupby("class")["class"].transform("size") > 1)]
    told = []
    for kind, gauge_kind, unit, step in counts[sort].itertuples(index=False, name=None):
        mine = (used["gauge_kind"] == gauge_kind) & (used["read_in"] == unit) & (used["step_um"] == step)
        data = data_to_fit(replace(readings, inspections=used[mine | (used["class"] != kind)]))
        try:
            quality = class_quality(fit_widths(data, intervals=False, near=fit), data, str(kind))
        except AnalysisError:  # what this sort of gauge measured is too little by itself
            continue
        told.append(
            GaugeQuality(
                measured_at=str(kind), gauge_kind=str(gauge_kind), unit=str(unit), step_um=float(step), quality=quality
            )
        )
    return tuple(told)


def _commonest(readings: WidthReadings) -> PatternShape:
    shafts = readings.inspections.drop_duplicates("shaft")["pattern"]
    return readings.shapes[str(shafts.value_counts().index[0])]


def _size_step(snapshot: Snapshot, shape: PatternShape) -> float:
    """Give the usual distance between the sizes on offer; 25 um where there are not two."""
    sizes = snapshot.query("stock/sizes_known")
    offered = sizes[(sizes["pattern"] == shape.pattern) & sizes["offered"].astype(bool)]["undersize_um"]
    steps = np.diff(np.sort(offered.to_numpy(dtype=float)))
    return float(np.median(steps)) if steps.size else _USUAL_STEP_UM


def _measurers(fit: WidthFit) -> pd.DataFrame:
    frame = fit.measurers.assign(
        low=lambda rows: rows["bias_um"] - Z95 * rows["sd_um"], high=lambda rows: rows["bias_um"] + Z95 * rows["sd_um"]
    )
    columns = ["measurer", "class", "inspections", "bias_um", "low", "high"]
    return frame[columns].sort_values("bias_um", kind="stable").reset_index(drop=True)
