"""Frames whose remarks are put into words."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.remark import Remark
from wearstats.report.remarks.say import say


def in_words(frame: pd.DataFrame, column: str = "why") -> pd.DataFrame:
    """Put a column of remarks into words; texts stay."""
    return frame.assign(**{column: [say(one) if isinstance(one, Remark) else one for one in frame[column]]})
