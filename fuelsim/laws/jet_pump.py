"""Jet pump and tank vent."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = ["entrainment_ratio", "vent_pressure"]


def entrainment_ratio(
    motive_drop: FloatLike, lift_pressure: FloatLike, largest_ratio: FloatLike, stall_pressure_ratio: FloatLike
) -> FloatArray:
    """Return the suction flow of a liquid jet pump over its motive flow.

    M = M_0 (1 - N/N_0), with N = lift/(motive drop - lift) the head ratio: the usual straight characteristic.

    Parameters
    ----------
    motive_drop : float or array
        Pressure of the motive fuel above the suction chamber, Pa.
    lift_pressure : float or array
        Pressure of the outlet above the suction chamber, Pa.
    largest_ratio : float or array
        Flow ratio M_0 without lift.
    stall_pressure_ratio : float or array
        Head ratio N_0 at which the suction flow becomes zero.

    Returns
    -------
    array
        Flow ratio M, not negative.

    Notes
    -----
    A straight line through M_0 and N_0 is within 14 % of N_0 of the momentum balance [karassik_pump_handbook]
    [nasa_tn_d_6453], which ties the two: M_0 N_0 is 0.5 to 0.8 for rough mouldings and 0.8 to 1.4 for well made ones.

    Examples
    --------
    >>> float(entrainment_ratio(50e3, 0.0, 3.0, 0.2)), float(entrainment_ratio(50e3, 20e3, 3.0, 0.2))
    (3.0, 0.0)
    """
    drop, lift = np.asarray(motive_drop, dtype=float), np.asarray(lift_pressure, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        head_ratio = np.where(drop > lift, lift / (drop - lift), np.inf)
    relative_ratio = np.where(drop > 0.0, 1.0 - head_ratio / stall_pressure_ratio, 0.0)
    result: FloatArray = largest_ratio * np.clip(relative_ratio, 0.0, 1.0)
    return result


def vent_pressure(
    outflow: FloatLike,
    pressure_opening: FloatLike,
    vacuum_opening: FloatLike,
    area: FloatLike,
    gas_density: FloatLike,
    discharge_coefficient: FloatLike = 0.6,
) -> FloatArray:
    """Return the pressure in a tank's vapour space above the atmosphere, from the gas flow through its vent.

    Beyond its opening pressures the vent is an orifice: dp = rho/2 (Q/(C A))^2.

    Parameters
    ----------
    outflow : float or array
        Gas flow Q out of the tank, vapour formed less fuel drawn, m3/s; negative where air flows in.
    pressure_opening, vacuum_opening : float or array
        Opening pressures of the cap's valves, Pa, not negative; 0 for an open vent.
    area : float or array
        Cross-section A of the vent's narrowest place, m2.
    gas_density : float or array
        Density rho of the gas, kg/m3; 1.2 for air.
    discharge_coefficient : float or array
        Discharge coefficient C of the vent.

    Returns
    -------
    array
        Pressure above the atmosphere, Pa.

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
