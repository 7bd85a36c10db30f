"""Seconds and memory of the fit of working loose against the gap, and of a general library's Weibull fit without a gap.

Run with ``python -m tests.benchmarks.loosening_fit [fittings ...]``. The general library is statsmodels' Cox regression
(``PHReg``) on the midpoints, with the gap as read: it knows neither intervals nor silence nor doubt about the gap,
and is here only to say what a plain fit of as many rows costs in the same run.
"""

import resource
import sys
import time

import numpy as np
from statsmodels.duration.hazard_regression import PHReg

from tests.analysis.support.gap_fleet import GapFleet
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.survival.reporting import SilentHistories

_PIECE = 20_000
_NODES = {True: 32, False: 8}


def draw(fittings: int) -> tuple[SilentHistories, GapNodes]:
    """Draw in pieces, so that the draws of the gaps need little memory."""
    few = fittings <= 100_000
    parts = []
    for begin in range(0, fittings, _PIECE):
        histories, gaps, _ = GapFleet(fittings=min(_PIECE, fittings - begin)).draw(np.random.default_rng(begin))
        thin = gaps.value_um.reshape(len(histories), _NODES[few], -1).mean(axis=2)
        parts.append((histories, thin))
    names = [name for name in SilentHistories.__slots__ if name != "shaft"]
    shaft = np.arange(fittings)
    whole = {name: np.concatenate([getattr(histories, name) for histories, _ in parts]) for name in names}
    nodes = np.concatenate([thin for _, thin in parts])
    return SilentHistories(**whole, shaft=shaft), GapNodes(value_um=nodes, shaft=shaft)


def main() -> None:
    """Print a row a size."""
    print("fittings  nodes  seconds  Cox s  ratio  peak GB  slope")
    for fittings in [int(word) for word in sys.argv[1:]] or [1000, 10_000, 100_000]:
        histories, gaps = draw(fittings)
        begin = time.perf_counter()
        fit = fit_loosening(histories, gaps)
        seconds = time.perf_counter() - begin
        middle = np.where(histories.failed, (histories.left + np.where(histories.failed, histories.right, 0)) / 2, 0)
        stop = np.maximum(np.where(histories.failed, middle, histories.last_word), 1e-3)
        begin = time.perf_counter()
        PHReg(stop, gaps.mean_um[:, None], status=histories.failed.astype(int), ties="breslow").fit(disp=0)
        plain = time.perf_counter() - begin
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(
            f"{fittings:8d}  {gaps.value_um.shape[1]:5d}  {seconds:7.2f}  {plain:5.2f}  {seconds / plain:5.2f}  "
            f"{peak:7.2f}  {fit.slope:5.3f}"
        )


if __name__ == "__main__":
    main()
