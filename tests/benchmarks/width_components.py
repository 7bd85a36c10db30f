"""Time the nested variance components against a general mixed-model library on the same data, in the same run.

Run with ``python -m tests.benchmarks.width_components``; prints times, their ratio and both sets of estimates.
"""

from __future__ import annotations

import statistics
import time
import warnings

import numpy as np
import pandas as pd
import statsmodels.formula.api as smf

from tests.analysis.support.nested_variance_components import NestedFit, NestedMoments, fit_nested

SHAFTS, SPLINES, MOST_READINGS = 1000, 10, 6


def invent(*, rng: np.random.Generator) -> pd.DataFrame:
    """Invent unbalanced readings of splines in shafts."""
    spline = np.arange(SHAFTS * SPLINES)
    level = np.repeat(rng.normal(0, 20, SHAFTS), SPLINES) + rng.normal(0, 5, spline.size)
    count = rng.integers(1, MOST_READINGS, spline.size)
    return pd.DataFrame(
        {
            "shaft": np.repeat(spline // SPLINES, count),
            "spline": np.repeat(spline % SPLINES, count),
            "width": np.repeat(level, count) + rng.normal(0, 4, int(count.sum())),
        }
    )


def ours(frame: pd.DataFrame) -> NestedFit:
    """Reduce and fit, as the program does."""
    moments = NestedMoments.from_readings(
        frame["width"].to_numpy(dtype=float), frame["shaft"].to_numpy(), frame["spline"].to_numpy()
    )
    return fit_nested(moments)


def theirs(frame: pd.DataFrame) -> tuple[float, float, float]:
    """Fit the same model with statsmodels MixedLM; give the three variances."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = smf.mixedlm("width ~ 1", frame, groups="shaft", re_formula="1", vc_formula={"spline": "0 + C(spline)"})
        found = model.fit(reml=True)
    return float(found.cov_re.iloc[0, 0]), float(found.vcomp[0]), float(found.scale)


def main() -> None:
    """Print the comparison."""
    frame = invent(rng=np.random.default_rng(1))
    times = []
    for _ in range(9):
        began = time.perf_counter()
        fit = ours(frame)
        times.append(time.perf_counter() - began)
    began = time.perf_counter()
    peer = theirs(frame)
    peer_s = time.perf_counter() - began
    mine_s = statistics.median(times)
    print(f"{SHAFTS} shafts, {len(frame)} readings")
    print(f"wearstats   {mine_s:8.4f} s   {fit.group:.4f} {fit.subgroup:.4f} {fit.residual:.4f}")
    print(f"statsmodels {peer_s:8.4f} s   {peer[0]:.4f} {peer[1]:.4f} {peer[2]:.4f}")
    print(f"ratio {peer_s / mine_s:.0f}")


if __name__ == "__main__":
    main()
