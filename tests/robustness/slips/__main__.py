"""Make the table of slips: ``python -m tests.robustness.slips``, about a quarter of an hour on an idle core.

Of each slip stands there what was typed, what the intake said, what the checks find, and, where neither said anything,
what it does to the answers.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

from tests.robustness.slips.effects import answers_with
from tests.robustness.slips.listed import SLIPS
from tests.robustness.slips.table import TABLE, table_of
from tests.robustness.slips.trying import Tried, in_a_folder
from wearstats.studies.demo import make_demo_store


def effects_of(tried: Mapping[str, Tried]) -> dict[str, str]:
    """Ask the whole demo with each slip that nobody noticed."""
    unnoticed = [slip for slip in SLIPS if tried[slip.name].intake == "nothing" and not tried[slip.name].checks]
    with tempfile.TemporaryDirectory() as folder:
        demo, path = Path(folder) / "demo.duckdb", Path(folder) / "slipped.duckdb"
        make_demo_store(demo)
        usual = answers_with(None, demo, path)
        return {slip.name: answers_with(slip, demo, path).against(usual) for slip in unnoticed}


def main() -> None:
    """Write the table."""
    trial = in_a_folder()
    tried = {slip.name: trial(slip) for slip in SLIPS}
    TABLE.write_text(table_of(tried, effects_of(tried)), encoding="utf-8")


if __name__ == "__main__":
    main()
