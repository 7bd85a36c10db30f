"""An invented fleet with known truth: shafts, owners, hubs, and what the shop gets to know of them."""

from wearstats.simulate.fleet import Fleet, simulate
from wearstats.simulate.scenario.scenario import DEMO, DEMO_SEED, Scenario
from wearstats.simulate.truth import Truth

__all__ = ["DEMO", "DEMO_SEED", "Fleet", "Scenario", "Truth", "simulate"]
