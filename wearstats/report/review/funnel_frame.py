"""What the funnel shows of each group, in numbers; apart from the picture, for tables are printed without drawing."""

from __future__ import annotations

from typing import Final

import pandas as pd

from wearstats.report.review.labels import group_words
from wearstats.studies.counts.groups import LEVEL

KINDS: Final = {"loose": "worked loose", "came-off": "came off otherwise", "came-back": "came back"}
"""What is counted in a group, in the words of picture and table."""


def funnel_frame(changes: pd.DataFrame) -> pd.DataFrame:
    """Give a row a group: ``group`` and ``what`` in words, ``seen``, ``expected``, ``times``, ``outside``, ``counted``.

    Parameters
    ----------
    changes : DataFrame
        Of `QuarterCounts.changes`. Expected is what the rate of both times together brings in the quarter; ``counted``
        are those in which enough happened to show a change at all.
    """
    both = changes["number"] + changes["before_number"]
    expected = both * changes["hub_months"] / (changes["hub_months"] + changes["before_months"])
    return pd.DataFrame(
        {
            "group": [group_words(by, group) for by, group in zip(changes["by"], changes["group"], strict=True)],
            "what": changes["what"].map(KINDS),
            "seen": changes["number"],
            "expected": expected,
            "times": changes["number"] / expected,
            "outside": changes["p_adjusted"] < LEVEL,
            "counted": changes["counted"],
        }
    )
