"""The one geometry: where a hub meets a worn shaft, and what it leaves.

A hub passes every place between the nut end and where it comes to rest, so the widest place met on the way in decides
what must come off the hub, and what came off is missing at every narrower place behind it. All lengths are in
micrometres unless a name says otherwise; widths and spaces may be measured from any common zero (for instance "below
the new width", negative), since only their differences enter.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def way_in(width_um: FloatArray) -> FloatArray:
    """Widest width that each place's hub space has passed on its way there.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths; the last axis runs from the shoulder to the nut end.

    Returns
    -------
    ndarray, same shape
        ``max(width[..., j:])``, the widest from the nut end up to and with station j.
    """
    return np.maximum.accumulate(width_um[..., ::-1], axis=-1)[..., ::-1]


def filing(width_um: FloatArray, space_um: FloatArray | float) -> FloatArray:
    """Give what must come off the hub at each place (or is forced, where it is driven on as supplied).

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.
    space_um : float or ndarray broadcastable against `width_um`
        Width of the hub's spaces from the same zero.

    Returns
    -------
    ndarray, broadcast shape
        Never negative.
    """
    return np.maximum(way_in(width_um) - space_um, 0.0)


def gap_left(width_um: FloatArray, space_um: FloatArray | float) -> FloatArray:
    """Give what is left over both flanks at each place once the hub stands home.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.
    space_um : float or ndarray broadcastable against `width_um`
        Width of the hub's spaces from the same zero.

    Returns
    -------
    ndarray, broadcast shape
        ``max(space, way_in) - width``, never negative; a hollow keeps its floor ``way_in - width`` under any hub.
    """
    return np.maximum(way_in(width_um), space_um) - width_um
