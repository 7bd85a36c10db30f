"""What the demo's shop does at its shelf: hubs gauged space by space, second sizes and hubs lent until a day.

Drawn from a generator of its own, so that nothing else of the demo hangs on it.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping

import numpy as np
import pandas as pd

from wearstats.domain.tables import HUB_ENDS
from wearstats.simulate.tables import finish

SHELF_SEED = 20260930
_GAUGED, _SPOILED, _LENT = 4, 2, 3
_PATTERN = "D10"
"""Hubs of one pattern are gauged; the other's answers stand in the README as they were before any were."""
_GAUGE = "gauge-w1"
_SCATTER_UM, _TAPER_UM, _TAPER_SD_UM, _WORN_UM = 0.8, 2.0, 1.0, 12.0


def keep_shelf(frames: Mapping[str, pd.DataFrame], *, end: str) -> dict[str, pd.DataFrame]:
    """Give the tables that the shelf adds to: ``hub_spaces``, and ``dispatches`` with days to come back by.

    Parameters
    ----------
    frames : mapping of str to DataFrame
        The fleet's tables; left as they are.
    end : str
        The last day of the history, ISO.
    """
    rng = np.random.default_rng(SHELF_SEED)
    return {"hub_spaces": _gauged(frames, rng=rng), "dispatches": _lent(frames, end=end, rng=rng)}


def _gauged(frames: Mapping[str, pd.DataFrame], *, rng: np.random.Generator) -> pd.DataFrame:
    """Gauge some hubs that came back: unfitted ones anew for the shelf, loose ones to see what was left of them."""
    hubs = frames["hubs"].merge(frames["patterns"][["pattern", "splines", "space_width_mm"]], on="pattern")
    back = hubs[hubs["pattern"] == _PATTERN].merge(frames["returns"], on="hub")
    fitted = back["hub"].isin(frames["fittings"]["hub"])
    whole = back[(back["back_on_shelf"] == "yes") & ~fitted]
    loose = back[(back["reason"] == "worked-loose") & fitted]
    chosen = pd.concat([_some(whole, _GAUGED, rng), _some(loose, _SPOILED, rng)], ignore_index=True)
    nominal = 1000 * chosen["space_width_mm_y"].astype(float) - chosen["undersize_um"].astype(float)
    stated = 1000 * chosen["space_width_mm_x"].astype(float)
    worn = np.where(chosen["reason"] == "worked-loose", _WORN_UM, 0.0)
    middle = stated.fillna(nominal).to_numpy(dtype=float) + worn
    splines = chosen["splines"].astype(int).tolist()
    returned = chosen["returned_on"].astype(str).tolist()
    parts = []
    for hub, mean, spaces, day in zip(chosen["hub"].tolist(), middle.tolist(), splines, returned, strict=True):
        half = rng.normal(_TAPER_UM, _TAPER_SD_UM) / 2
        places = mean + np.array([half, -half])[:, None] + _SCATTER_UM * rng.standard_normal((2, spaces))
        gauged_on = datetime.date.fromisoformat(day) + datetime.timedelta(days=int(rng.integers(1, 15)))
        parts.append(
            pd.DataFrame(
                {
                    "hub": hub,
                    "gauged_on": gauged_on.isoformat(),
                    "space": np.tile(np.arange(1, spaces + 1), 2),
                    "end": np.repeat(HUB_ENDS, spaces),
                    "width_mm": [f"{um / 1000:.3f}" for um in places.ravel()],
                    "gauge": _GAUGE,
                }
            )
        )
    return finish("hub_spaces", pd.concat(parts, ignore_index=True))


def _lent(frames: Mapping[str, pd.DataFrame], *, end: str, rng: np.random.Generator) -> pd.DataFrame:
    """Say by when second sizes were to come back, and of some hubs sent lately without word since; one is late."""
    sent = frames["dispatches"]
    day = pd.to_datetime(sent["sent_on"])
    second = sent["hub"].isin(frames["returns"].loc[frames["returns"]["reason"] == "second-size-back", "hub"])
    silent = ~sent["hub"].isin(frames["returns"]["hub"]) & ~sent["hub"].isin(frames["fittings"]["hub"])
    lately = sent.index[silent & (pd.Timestamp(end) - day < pd.Timedelta(days=150))]
    oldest, others = lately[np.argsort(day[lately], kind="stable")][:1], lately[1:]
    lent = [*oldest, *rng.choice(others.to_numpy(), size=_LENT - 1, replace=False)]
    wanted = second | sent.index.isin(lent)
    back_by = (day + pd.to_timedelta(rng.integers(60, 91, size=len(sent)), unit="D")).dt.strftime("%Y-%m-%d")
    return sent.assign(back_by=back_by.where(wanted).astype("str"))


def _some(rows: pd.DataFrame, number: int, rng: np.random.Generator) -> pd.DataFrame:
    return rows.iloc[np.sort(rng.choice(len(rows), size=number, replace=False))]
