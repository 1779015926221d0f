"""Gas in the flow: dissolved air that leaves where the pressure is below the tank's, and vapour that boils with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient
from fuelsim.numerics.bracket import illinois
from fuelsim.typing import FloatArray, FloatLike, PointArray

if TYPE_CHECKING:
    from fuelsim.fuel.tables import FuelTables

__all__ = ["gas_liquid_ratio"]

STEPS = 40
STANDARD_TEMPERATURE = 288.15


def gas_liquid_ratio(
    tables: FuelTables,
    temperature: FloatLike,
    pressure: FloatLike,
    *,
    tank_temperature: FloatLike,
    tank_pressure: FloatLike,
    released_air: FloatLike,
) -> FloatArray:
    """Return the volume of free gas per volume of liquid, air first and vapour with it, after a drop without heat.

    The air that the fuel took up in the tank shares itself between the liquid and the gas by its Ostwald coefficient
    L, ``p_a (r + L) = L p_a0``, and the vapour fills the same volume r under what is left of the pressure, so
    ``r = r_vapour(T, p - p_a)`` with the isenthalpic ratio of the air-free fuel. Without vapour's cooling this is the
    known ``L (p0 - p) / (p - p_v)``. The ratio rises without a jump from zero at the tank's own state through the
    bubble point.

    Parameters
    ----------
    tables : FuelTables
    temperature, pressure : array (..., points)
        K as if all liquid, Pa absolute.
    tank_temperature, tank_pressure : array (points,)
        Where the fuel took up its air.
    released_air : float or array (points,)
        Share of the equilibrium release: 0 gives the vapour alone.

    Returns
    -------
    array (..., points)

    Examples
    --------
    Petrol saturated at 20 degC and 101.3 kPa, now at 90 kPa and at the same temperature: ``fuel.gas_liquid_ratio``
    (flash with air as a component) gives 0.04.

    >>> from fuelsim.fuel.fuel import Fuel
    >>> tables = Fuel.named("summer_e10").tables()
    >>> place = {"tank_temperature": 293.15, "tank_pressure": 101325.0, "released_air": 1.0}
    >>> round(float(gas_liquid_ratio(tables, 293.15, 90e3, **place)), 2)
    0.04
    """
    share = np.asarray(released_air, dtype=float)
    if not np.any(share > 0.0):
        return np.asarray(tables.vapour_liquid_ratio_after_drop(temperature, pressure))
    ostwald = share * ostwald_coefficient(np.asarray(tank_temperature), tables.density(STANDARD_TEMPERATURE))
    partial = np.maximum(np.asarray(tank_pressure) - tables.bubble_pressure(tank_temperature), 0.0)
    t, p, coefficient, most = np.broadcast_arrays(
        np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float), ostwald, partial
    )
    ratio = np.array(tables.vapour_liquid_ratio_after_drop(t, p), dtype=float)
    freed = (p < tables.bubble_pressure(t) + most) & (most > 0.0) & (coefficient > 0.0)
    if np.any(freed):
        ratio[freed] = _with_air(tables.where(freed), t[freed], p[freed], coefficient[freed], most[freed])
    return ratio


def _with_air(
    tables: FuelTables, temperature: PointArray, pressure: PointArray, ostwald: PointArray, most: PointArray
) -> PointArray:
    """Find the air's partial pressure by regula falsi (Illinois form) on p_a (r + L) - L p_a0, which rises in p_a."""

    def surplus(partial: PointArray) -> PointArray:
        ratio = tables.vapour_liquid_ratio_after_drop(temperature, np.maximum(pressure - partial, 1e3))
        logarithm: PointArray = np.log((ratio + ostwald) * partial / (ostwald * most))
        return logarithm

    low = np.maximum(pressure - tables.bubble_pressure(temperature), 1e-4 * most)
    high = np.minimum(most, pressure - 1e3)
    low = np.minimum(low, high)
    remaining = illinois(surplus, low, high, steps=STEPS, tolerance=1e-9)
    # The balance of air gives r = L (p_a0 - p_a) / p_a, which is exact to rounding where little is freed.
    ratio: PointArray = np.maximum(ostwald * (most - remaining) / remaining, 0.0)
    return ratio
