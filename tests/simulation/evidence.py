"""How often the evidence at every look calls a difference settled, rightly and wrongly; writes evidence.md.

Run ``python -m tests.simulation.evidence`` to remake the table (about five minutes on one core).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from wearstats.analysis.methods.evidence import enter_at_horizon
from wearstats.analysis.monitoring.confidence_sequences import evidence_of_no_difference, mix_evidence
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261129
HISTORIES = 1000
QUARTERS, A_QUARTER = 16, 15
FIRST_DAY = pd.Timestamp("2022-01-01")
HORIZON_MONTHS = 12.0


@dataclass(frozen=True, kw_only=True)
class World:
    """Shafts that get one or two hubs, which fail together."""

    pairs: float = 0.0  # share of shafts with a second hub
    together: float = 0.0  # share of shafts on which both do alike, whatever befalls
    mixed: bool = False  # the second hub is sent the other way
    after_failure: bool = False  # a second hub only where the first failed
    risk: float = 0.15

    def draw(self, ratio: float, rng: np.random.Generator) -> pd.DataFrame:
        """Draw fittings as `enter_at_horizon` takes them; the supplied ones fail ``ratio`` times as often."""
        shafts = QUARTERS * A_QUARTER
        first = self._hubs(np.arange(shafts), rng.uniform(size=shafts) < 0.5, rng.uniform(size=shafts), ratio, rng)
        lot = rng.uniform(size=shafts) < self.pairs
        again = first[first["outcome"].eq("failed")] if self.after_failure else first[lot]
        fate = np.where(rng.uniform(size=len(again)) < self.together, again["fate"], rng.uniform(size=len(again)))
        way = again["supplied"].to_numpy() != self.mixed
        second = self._hubs(again["shaft"].to_numpy(), way, fate, ratio, rng)
        later = pd.to_timedelta(400 if self.after_failure else 14, unit="D")
        return pd.concat([first, second.assign(origin_on=second["origin_on"] + later)], ignore_index=True)

    def _hubs(
        self, shaft: IntArray, supplied: BoolArray, fate: FloatArray, ratio: float, rng: np.random.Generator
    ) -> pd.DataFrame:
        failed = fate < self.risk * np.where(supplied, ratio, 1.0)
        origin = FIRST_DAY + pd.to_timedelta(91 * (shaft // A_QUARTER), unit="D")
        return pd.DataFrame(
            {
                "shaft": shaft,
                "supplied": supplied,
                "method_sent": np.where(supplied, "as-supplied", "owner-fitted"),
                "fate": fate,
                "origin_on": origin,
                "period": origin.year.astype(str) + "H" + ((origin.month > 6) + 1).astype(str),
                "entry_months": 0.0,
                "outcome": np.where(failed, "failed", "tight"),
                "first_bad_months": np.where(failed, rng.uniform(0.0, HORIZON_MONTHS, len(shaft)), np.inf),
            }
        )


WORLDS = {
    "one hub a shaft": World(),
    "half have a pair that fails together": World(pairs=0.5, together=1.0),
    "all have a pair that fails together": World(pairs=1.0, together=1.0),
    "all have a pair, seven in ten together": World(pairs=1.0, together=0.7),
    "pairs of both ways, together": World(pairs=1.0, together=1.0, mixed=True),
    "a second hub after a failure only": World(after_failure=True, together=0.5),
}


def settled(world: World, ratio: float, histories: int, rng: np.random.Generator) -> tuple[float, float]:
    """Share of histories called settled at some look: by the first hub of each shaft, and by all hubs."""
    called = np.zeros((histories, 2), dtype=bool)
    for each in called:
        ran = world.draw(ratio, rng)
        alone = ran.assign(shaft=np.arange(len(ran)))
        each[:] = [
            _called(enter_at_horizon(of, by="method_sent", horizon_months=HORIZON_MONTHS)) for of in (ran, alone)
        ]
    first, every = called.mean(axis=0)
    return float(first), float(every)


def _called(entered: pd.DataFrame) -> bool:
    """Whether no difference is ruled out at some block: that value alone, by its closed form, for speed."""
    cells = entered.assign(quarter=entered["entered_on"].dt.to_period("Q"), hand=~entered["supplied"])
    by = [cells["quarter"], cells["stratum"]]
    counts = [cells[of].groupby(by).sum().to_numpy()[:, None] for of in ("supplied", "hand")]
    failures = [(cells[of] & cells["failed"]).groupby(by).sum().to_numpy() for of in ("supplied", "hand")]
    both = (counts[0] * counts[1] > 0)[:, 0]
    steps = evidence_of_no_difference(failures[0], np.maximum(counts[0], 1), failures[1], np.maximum(counts[1], 1))
    return bool(np.any(mix_evidence(np.cumsum(steps * both[:, None], axis=0)) >= -np.log1p(-0.95)))


def main() -> None:
    """Remake the table."""
    rng = np.random.default_rng(SEED)
    lines = [
        "# Evidence at every look, of hubs that fail together",
        "",
        f"`python -m tests.simulation.evidence`: {HISTORIES} histories a cell, {QUARTERS} quarters, {A_QUARTER} shafts "
        "a quarter, half sent as supplied, 15 in 100 of the filed known loose in a year. Share of histories in which "
        "a difference was called settled at some quarter; where there is none, at most 0.05 is right.",
        "",
        "| world | no difference, first hubs | no difference, all hubs | 2.5 times, first hubs | 2.5 times, all hubs |",
        "|---|---:|---:|---:|---:|",
    ]
    for name, world in WORLDS.items():
        cells = [share for ratio in (1.0, 2.5) for share in settled(world, ratio, HISTORIES, rng)]
        lines.append(f"| {name} | " + " | ".join(f"{share:.3f}" for share in cells) + " |")
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
