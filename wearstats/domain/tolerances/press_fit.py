"""Lame's thick rings, for the round register only: splines are no press fit.

References
----------
.. [1] The formulae of Lame for two rings of one material, in any book on machine elements; for instance R. G. Budynas
       and J. K. Nisbett, *Shigley's Mechanical Engineering Design*, press and shrink fits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearstats.errors import InputError, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class PressFit:
    """A hub pressed on a round register.

    Parameters
    ----------
    pressure_mpa : float
        Pressure between hub and register.
    force_n : float
        Axial force that overcomes friction.
    hub_hoop_mpa : float
        Tension round the hub's bore, where it cracks first.
    """

    pressure_mpa: float
    force_n: float
    hub_hoop_mpa: float


def press_fit(
    *,
    interference_mm: float,
    register_mm: float,
    hub_outside_mm: float,
    bore_mm: float = 0.0,
    length_mm: float,
    modulus_mpa: float,
    friction: float,
) -> PressFit:
    """Compute pressure, force and hoop stress of a press fit of one material.

    Parameters
    ----------
    interference_mm : float
        On the diameter. Taking it for the radius doubles every result.
    register_mm : float
        Diameter of the register.
    hub_outside_mm : float
        Outside diameter of the hub.
    bore_mm : float
        Bore of the shaft, 0 where solid.
    length_mm : float
        Length pressed.
    modulus_mpa : float
        Young's modulus of both parts, about 207 000 to 210 000 for steel.
    friction : float
        Coefficient of friction, the caller's choice.

    Returns
    -------
    PressFit

    Raises
    ------
    InputError
        Where the diameters do not lie one inside the other.
    """
    if not 0 <= bore_mm < register_mm < hub_outside_mm:
        found = f"bore {bore_mm:g}, register {register_mm:g}, hub {hub_outside_mm:g} mm"
        raise InputError(Problem(place="press fit", found=found, allowed="each inside the next"))
    hub = (hub_outside_mm**2 + register_mm**2) / (hub_outside_mm**2 - register_mm**2)
    shaft = (register_mm**2 + bore_mm**2) / (register_mm**2 - bore_mm**2)
    pressure = interference_mm / (register_mm / modulus_mpa * (hub + shaft))
    return PressFit(
        pressure_mpa=pressure,
        force_n=friction * pressure * math.pi * register_mm * length_mm,
        hub_hoop_mpa=pressure * hub,
    )
