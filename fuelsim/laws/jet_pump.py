"""Jet pump and tank vent: small devices that move fuel or air by a pressure they are given."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["entrainment_ratio", "vent_pressure"]


def entrainment_ratio(
    motive_drop: Any, lift_pressure: Any, largest_ratio: Any, stall_pressure_ratio: Any
) -> np.ndarray:
    """Return the suction flow of a liquid jet pump over its motive flow.

    M = M_0 (1 - N/N_0), with N = lift/(motive drop - lift) the head ratio: the usual straight characteristic.

    Parameters
    ----------
    motive_drop : array
        Pressure of the motive fuel over the suction chamber, Pa.
    lift_pressure : array
        Outlet over suction chamber, Pa.
    largest_ratio : array
        M_0, without lift.
    stall_pressure_ratio : array
        N_0, at which nothing is sucked any more.

    Returns
    -------
    array
        Not negative.

    Notes
    -----
    Form: any text on jet pumps (from memory); M_0 of 2-5 and N_0 of 0.1-0.4 suit small plastic ejectors (assumed).

    Examples
    --------
    >>> float(entrainment_ratio(50e3, 0.0, 3.0, 0.2)), float(entrainment_ratio(50e3, 20e3, 3.0, 0.2))
    (3.0, 0.0)
    """
    drop, lift = np.asarray(motive_drop, dtype=float), np.asarray(lift_pressure, dtype=float)
    left = drop - lift
    with np.errstate(divide="ignore", invalid="ignore"):
        head_ratio = np.where(left > 0.0, lift / left, np.inf)
    share = np.where(drop > 0.0, 1.0 - head_ratio / stall_pressure_ratio, 0.0)
    return largest_ratio * np.clip(share, 0.0, 1.0)


def vent_pressure(
    outflow: Any,
    pressure_opening: Any,
    vacuum_opening: Any,
    area: Any,
    gas_density: Any,
    discharge_coefficient: Any = 0.6,
) -> np.ndarray:
    """Return the pressure in a tank's vapour space over the atmosphere, from the gas that has to pass its vent.

    Beyond its opening pressures the vent is an orifice: dp = rho/2 (Q/(C A))^2.

    Parameters
    ----------
    outflow : array
        Gas pushed out, m3/s: vapour formed less fuel drawn; negative where air is sucked in.
    pressure_opening, vacuum_opening : array
        Of the cap's valves, Pa, not negative; 0 for an open vent.
    area : array
        m2.
    gas_density : array
        kg/m3; 1.2 for air.
    discharge_coefficient : array

    Returns
    -------
    array
        Pa.

    Examples
    --------
    A vent of 2 mm while 100 L/h are drawn, and the same behind a vacuum valve of 2 kPa:

    >>> area = np.pi * 1e-6
    >>> [round(float(vent_pressure(-100e-3 / 3600, 0.0, valve, area, 1.2))) for valve in (0.0, 2e3)]
    [-130, -2130]
    """
    flow = np.asarray(outflow, dtype=float)
    loss = 0.5 * np.asarray(gas_density) * (flow / (np.asarray(discharge_coefficient) * area)) ** 2
    return np.where(flow > 0.0, pressure_opening + loss, np.where(flow < 0.0, -(vacuum_opening + loss), 0.0))
