"""The fitted width model as a thing: components, means, and the limits that stand in where readings cannot tell."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.reml import BoolArray, FloatArray

ASSUMED_UM: dict[str, float] = {
    "shaft": 25.0,
    "spline": 6.0,
    "shaft_station": 4.0,
    "cell": 3.0,
    "measurer_home": 7.0,
    "measurer_workshop": 2.0,
    "measurer_caliper": 15.0,
    "inspection_home": 3.0,
    "inspection_workshop": 1.0,
    "inspection_caliper": 10.0,
    "repeatability_home": 5.0,
    "repeatability_workshop": 2.0,
    "repeatability_caliper": 10.0,
}
"""Standard deviations used where the readings cannot tell, in um.

The bands for a trained hand with a ratchet (repeatability about 2) and for an owner at home (repeatability about 5, a
bias of 5 to 10 that all readings of an inspection share) are judgement, after the spread of measuring force between
operators seen in J. Japan Soc. Precision Eng. 50(11) 1798; calipers good to 20 to 30 from memory.
"""

CLASS_MEAN_SD_UM = {"home": 4.0, "workshop": 0.0, "caliper": 10.0}
"""How far the mean of a class may lie from the workshop's where no shaft was measured by both; judgement."""

Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthFit:
    """The fitted width model.

    Parameters
    ----------
    components_um : dict of str to Estimate
        Standard deviations, by the names of `COMPONENTS`.
    variances : ndarray, shape (13,)
        The same squared, um^2, as the predictions use them.
    free : ndarray of bool, shape (13,)
        Which were estimated.
    means : DataFrame
        The means of stations, groups and classes: ``name``, ``value_um``, ``se_um``.
    mean_covariance : ndarray, shape (means, means)
        Of their errors, um^2.
    variance_covariance : ndarray, shape (13, 13)
        Of the estimated variances' errors, um^4; zero for those held or at zero.
    measurers : DataFrame
        Measurers with several inspections: ``measurer``, ``class``, ``inspections``, ``bias_um`` against the mean of
        their class, drawn towards it as far as it is doubtful, and ``sd_um`` of its error.
    units, readings : int
        What it rests on.
    criterion : float
        Minus twice the restricted log likelihood.
    """

    components_um: dict[str, Estimate]
    variances: FloatArray
    free: BoolArray
    means: pd.DataFrame
    mean_covariance: FloatArray
    variance_covariance: FloatArray
    measurers: pd.DataFrame
    units: int
    readings: int
    criterion: float

    def mean_of(self, name: str) -> tuple[float, float] | None:
        """Value and standard error of one mean, in um; None when the model has none such."""
        row = self.means[self.means["name"] == name]
        return None if row.empty else (float(row["value_um"].iloc[0]), float(row["se_um"].iloc[0]))
