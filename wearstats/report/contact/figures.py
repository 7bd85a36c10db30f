"""Contact predicted and contact marked: the picture with its table."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.gaps.contact_check import ContactSeen
from wearstats.report.contact.chart import contact_chart
from wearstats.report.contact.table import contact_table
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.theme import NARROW, WIDE


def contact_figure(seen: ContactSeen, fittings: pd.DataFrame) -> Figure:
    """Draw sides marked against sides predicted to bear."""
    wide, narrow = (contact_chart(seen.bands, fittings, width=width) for width in (WIDE, NARROW))
    return make_figure("contact", wide=wide, narrow=narrow, table=contact_table(seen))
