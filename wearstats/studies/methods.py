"""Tell whether hubs fitted straight off the shelf fail more than those fitted by hand."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.group_risks import GroupRisk, fit_groups, risk_difference
from wearstats.analysis.histories import Histories
from wearstats.analysis.methods import AS_SUPPLIED, HAND_FITTED, MethodTable, tabulate_methods
from wearstats.analysis.resample import draw_replicates
from wearstats.analysis.silence import SilentHistories, fit_silence
from wearstats.domain.frames import METHODS
from wearstats.store.connection import Store
from wearstats.studies.fitting_histories import grid_months, of_pattern, read_histories, require_fittings
from wearstats.studies.loosening import NEEDS_GAP_MODEL, group_to_dict

NEEDS_ADJUSTMENT = "needs the comparison of like shafts, not in this version"
NEEDS_SEQUENTIAL = "needs the evidence valid at every look, not in this version"
_BY = {"sent": "method_sent", "done": "method_done"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodsStudy:
    """The methods beside each other, as they were used and not on like shafts.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    pattern : str or None
        Restriction to one pattern.
    horizon_months : float
        Month at which risks are compared.
    groups : dict of str to dict of str to GroupRisk
        ``sent`` and ``done``, each by method and for all fitted by hand together; groups without fittings are there.
    differences : dict of str to Estimate
        ``sent`` and ``done``: risk as supplied minus fitted by hand, from the curves.
    tables : dict of str to MethodTable
        ``sent`` and ``done``: counts of fittings whose outcome at the horizon is known.
    sent_taken_as_done : int
        Fittings for which the advised method is not recorded, counted as sent for what was done.
    changed : int
        Fittings done by another method than was sent.
    would_not_go_on : dict of str to int
        Hubs that would not go on, by the method sent.
    by_pattern : dict of str to MethodsStudy
        The same for each pattern, where there are several.
    """

    as_of: datetime.date
    pattern: str | None
    horizon_months: float
    groups: Mapping[str, dict[str, GroupRisk]]
    differences: Mapping[str, Estimate]
    tables: Mapping[str, MethodTable]
    sent_taken_as_done: int
    changed: int
    would_not_go_on: dict[str, int]
    by_pattern: Mapping[str, MethodsStudy]

    def methods_frame(self) -> pd.DataFrame:
        """Give ``by``, ``method``, ``fittings``, ``failures``, ``hub_months``, ``risk``, ``low``, ``high``."""
        rows = [(by, group, group.risk(self.horizon_months)) for by in _BY for group in self._methods(by).values()]
        return pd.DataFrame(
            {
                "by": [by for by, _, _ in rows],
                "method": [group.group for _, group, _ in rows],
                "fittings": [group.fittings for _, group, _ in rows],
                "failures": [group.failures for _, group, _ in rows],
                "hub_months": [group.hub_months for _, group, _ in rows],
                "risk": [np.nan if risk.value is None else risk.value for _, _, risk in rows],
                "low": [np.nan if risk.low is None else risk.low for _, _, risk in rows],
                "high": [np.nan if risk.high is None else risk.high for _, _, risk in rows],
            }
        )

    def table_frame(self) -> pd.DataFrame:
        """Give ``by``, ``group``, ``failed``, ``tight``: fittings whose outcome at the horizon is known."""
        tables = [(by, self.tables[by].table) for by in _BY]
        return pd.DataFrame(
            {
                "by": [by for by, _ in tables for _ in range(2)],
                "group": [AS_SUPPLIED, HAND_FITTED] * len(tables),
                "failed": [n for _, table in tables for n in (table.first_failed, table.second_failed)],
                "tight": [n for _, table in tables for n in (table.first_tight, table.second_tight)],
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        nothing = no_estimate(NEEDS_SEQUENTIAL)
        document: dict[str, Any] = {
            "pattern": self.pattern,
            "horizon_months": self.horizon_months,
            "fittings": sum(group.fittings for group in self._methods("sent").values()),
            "by_method": self._by_method("sent"),
            "by_method_done": self._by_method("done"),
            "risk_difference": {
                "crude": self.differences["sent"].to_dict(),
                "same_shafts": no_estimate(NEEDS_ADJUSTMENT).to_dict(),
                "same_gap": no_estimate(NEEDS_GAP_MODEL).to_dict(),
                "as_done": self.differences["done"].to_dict(),
            },
            "table": table_to_dict(self.tables["sent"]),
            "table_done": table_to_dict(self.tables["done"]),
            "e_value": no_estimate(NEEDS_ADJUSTMENT).to_dict(),
            "evidence": {"low": None, "high": None, "settled": None, "since": None, "method": nothing.method},
            "more_fittings_needed": nothing.to_dict(),
            "sent_taken_as_done": self.sent_taken_as_done,
            "changed": self.changed,
            "would_not_go_on": self.would_not_go_on,
        }
        if self.by_pattern:
            document["by_pattern"] = {name: study.to_dict() for name, study in self.by_pattern.items()}
        return document

    def _methods(self, by: str) -> dict[str, GroupRisk]:
        """Give the groups of single methods that have fittings."""
        return {name: group for name, group in self.groups[by].items() if name in METHODS and group.fittings}

    def _by_method(self, by: str) -> dict[str, Any]:
        return {name: group_to_dict(group, self.horizon_months) for name, group in self._methods(by).items()}


def study_methods(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float = 12.0,
    rng: np.random.Generator,
) -> MethodsStudy:
    """Compare the methods.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str, optional
        Restriction to one pattern.
    horizon_months : float
        Month at which risks are compared.
    rng : numpy.random.Generator
        For drawing shafts anew.

    Returns
    -------
    MethodsStudy

    Raises
    ------
    AnalysisError
        When no fitting is on record.
    """
    histories = read_histories(store, as_of=as_of, pattern=pattern)
    require_fittings(histories, pattern)
    patterns = sorted(histories.ran["pattern"].dropna().unique().tolist())
    several = pattern is None and len(patterns) > 1

    def answer(part: Histories, name: str | None, inner: Mapping[str, MethodsStudy]) -> MethodsStudy:
        return _answer(part, name, horizon_months, inner, rng=rng)

    inner = {name: answer(of_pattern(histories, name), name, {}) for name in patterns} if several else {}
    return answer(histories, pattern, inner)


def table_to_dict(table: MethodTable) -> dict[str, Any]:
    """Give a table and its tests as the ``--json`` document has them."""
    counts = table.table
    fisher = table.fisher
    pooled = table.stratified
    return {
        "as_supplied": {"failed": counts.first_failed, "tight": counts.first_tight},
        "hand_fitted": {"failed": counts.second_failed, "tight": counts.second_tight},
        "left_out": table.left_out,
        "difference": table.difference.to_dict(),
        "fisher": None
        if fisher is None
        else {
            "p_two_sided": fisher.p_two_sided,
            "p_greater": fisher.p_greater,
            "mid_p_two_sided": fisher.mid_p_two_sided,
            "mid_p_greater": fisher.mid_p_greater,
            "odds_ratio": fisher.odds_ratio.to_dict(),
        },
        "mantel_haenszel": {
            "by": list(table.strata),
            "strata": pooled.strata,
            "odds_ratio": pooled.odds_ratio.to_dict(),
            "p": pooled.p_value,
            "homogeneity_p": pooled.homogeneity_p,
        },
    }


def _answer(
    histories: Histories,
    pattern: str | None,
    horizon_months: float,
    by_pattern: Mapping[str, MethodsStudy],
    *,
    rng: np.random.Generator,
) -> MethodsStudy:
    ran = histories.ran
    told = SilentHistories.from_frame(ran)
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, rng=rng)
    months = grid_months(told, horizon_months)
    at_horizon = months[months <= horizon_months][-1:]  # only the horizon is compared
    groups: dict[str, dict[str, GroupRisk]] = {}
    for by, column in _BY.items():
        chosen = {name: ran[column].eq(name).to_numpy(dtype=bool) for name in METHODS}
        chosen[HAND_FITTED] = ~chosen[AS_SUPPLIED]
        groups[by] = fit_groups(told, chosen, silence, replicates, months=at_horizon)
    never_on = histories.frame[histories.frame["outcome"].eq("would-not")]
    return MethodsStudy(
        as_of=histories.as_of,
        pattern=pattern,
        horizon_months=horizon_months,
        groups=groups,
        differences={
            by: risk_difference(group[AS_SUPPLIED], group[HAND_FITTED], horizon_months) for by, group in groups.items()
        },
        tables={by: tabulate_methods(ran, by=column, horizon_months=horizon_months) for by, column in _BY.items()},
        sent_taken_as_done=int((~ran["method_sent_known"].astype(bool)).sum()),
        changed=int(ran["method_sent"].ne(ran["method_done"]).sum()),
        would_not_go_on={
            name: int(never_on["method_sent"].eq(name).sum())
            for name in METHODS
            if never_on["method_sent"].eq(name).any()
        },
        by_pattern=by_pattern,
    )
