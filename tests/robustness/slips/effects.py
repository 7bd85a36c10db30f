"""What a slip that nobody notices does to the answers: asked of the whole demo with the case, without it and with."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from tests.robustness.slips.listed import Slip
from tests.robustness.slips.trying import make_with
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.loosening.fit_from_store import loosening_fit
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

ASKED_ABOUT = "S9001"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What was answered.

    Parameters
    ----------
    slope : float
        Log hazard ratio of 10 um of gap, over all fittings.
    below_new_um : float or None
        How much narrower than new the shaft of the case is, on average; None where that is not answered.
    hub : str
        What is advised for it.
    """

    slope: float
    below_new_um: float | None
    hub: str

    def against(self, usual: Answers) -> str:
        """Say what is other than without the slip."""
        told = [f"slope {usual.slope:.4f} to {self.slope:.4f}"] if abs(self.slope - usual.slope) > 0.0005 else []
        if self.below_new_um is None or usual.below_new_um is None:
            told += ["S9001 is not answered for"] if self.below_new_um != usual.below_new_um else []
        elif abs(self.below_new_um - usual.below_new_um) > 0.05:
            told.append(f"S9001's wear {usual.below_new_um:.1f} to {self.below_new_um:.1f} µm")
        told += [f"its hub {usual.hub} to {self.hub}"] if self.hub != usual.hub else []
        return ", ".join(told) or "slope, wear and hub of S9001 the same"


def answers_with(slip: Slip | None, demo: Path, path: Path) -> Answers:
    """Ask the whole demo with the case, and a slip in it or none."""
    path.unlink(missing_ok=True)
    if slip is not None and slip.scene == "first":
        make_with(slip, demo, path, shafts=None)
        held = path.with_name("held.duckdb")
        shutil.move(path, held)
        make_with(None, held, path)
    else:
        make_with(slip, demo, path)
    with open_store(path) as store:
        snapshot = Snapshot(store=store, known_on=demo_as_of())
        slope = float(loosening_fit(snapshot).slope)
        try:
            study = study_shaft(snapshot, ASKED_ABOUT)
        except AnalysisError as refused:
            return Answers(slope=slope, below_new_um=None, hub=str(refused).partition(";")[0])
        advice = study.advice.to_dict()
        hub = f"{advice['do']} {advice['undersize_um']} {advice['method']}"
        return Answers(slope=slope, below_new_um=study.width_um_below_new.value, hub=hub)
