"""What a drive's tank would do with another fuel: the heat is known from the drive, only the vapour is integrated anew.

Up to boiling a fuel's volatility does not act on what the plumbing brings, so that one drive with a fuel that hardly
boils serves for all fuels.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.errors import SolveError
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.integration import LONGEST_STEP, RELATIVE_TOLERANCE, forward_jacobian
from fuelsim.transients.tank import TankState, tank_pressure, tank_rates, vapour_space
from fuelsim.transients.tank_equations import ABSOLUTE_TOLERANCE
from fuelsim.transients.tank_fuel import TankFuel
from fuelsim.typing import FloatArray, PointArray

if TYPE_CHECKING:
    from fuelsim.car.tables import Tank

__all__ = ["OtherFuel", "with_other_fuel"]

LEAST_PARTIAL_PRESSURE = 10.0
"""Partial pressure of air in a tank that boils, Pa (numerical)."""
_TOLERANCE = np.array([getattr(ABSOLUTE_TOLERANCE, name) for name in ("temperature", "liquid", "air", "evaporated")])


class OtherFuel(NamedTuple):
    """Tank with another fuel: temperature, K, mass fraction evaporated, and pressure, Pa absolute, (times,)."""

    temperature: PointArray
    evaporated: PointArray
    pressure: PointArray


def with_other_fuel(result: Drive, tank: Tank, fuel: TankFuel) -> OtherFuel:
    """Return what becomes of a tank in a drive, had it held another fuel.

    Parameters
    ----------
    result : Drive
        With a fuel that hardly boils.
    tank : Tank
        The car's tank.
    fuel : TankFuel
        The other fuel; one that would boil before the start begins at its boiling pressure.

    Returns
    -------
    OtherFuel

    Raises
    ------
    SolveError
        If the integration fails.

    Notes
    -----
    m c dT/dt = m c dT0/dt - U (T - T0) - L E: T0 is the tank's temperature in the drive, U its conductance at rest.
    """
    from scipy.integrate import solve_ivp

    # A phase begins with the time at which the one before ends.
    time, kept = np.unique(result.time, return_index=True)
    outside, warm = np.asarray(standard_pressure(result.altitude))[kept], result.tank_temperature[kept]
    burnt = result.fuel_mass[0] - result.fuel_mass[kept] - result.vapour_lost[kept]
    warming, consumption = np.gradient(warm, time), np.gradient(burnt, time)
    conductance = float(tank.heat_conductance)

    def state_of(y: FloatArray) -> TankState:
        return TankState.within_bounds(*y.tolist())

    def rates(at: float, y: FloatArray) -> Sequence[float]:
        state = state_of(y)
        of_drive, faster, burns, pressure = (
            float(np.interp(at, time, row)) for row in (warm, warming, consumption, outside)
        )
        capacity = state.liquid * fuel.heat_capacity(state.temperature)
        heat = capacity * faster - conductance * (state.temperature - of_drive)
        change = tank_rates(fuel, state, tank.volume, tank.vent, pressure, heat, burns)
        return [change.temperature, -burns - change.evaporation, change.air, change.evaporated]

    temperature = float(warm[0])
    liquid = float(tank.fuel_volume * fuel.density(temperature).value)
    space = vapour_space(fuel, tank.volume, temperature, liquid)
    beside_vapour = max(float(outside[0]) - fuel.bubble_pressure(temperature, 0.0).pressure, LEAST_PARTIAL_PRESSURE)
    air = beside_vapour * space / (GAS_CONSTANT * temperature)
    answer = solve_ivp(
        rates,
        (float(time[0]), float(time[-1])),
        np.array([temperature, liquid, air, 0.0]),
        method="LSODA",
        jac=forward_jacobian(rates, range(4), _TOLERANCE),
        t_eval=time,
        rtol=RELATIVE_TOLERANCE,
        atol=_TOLERANCE,
        max_step=LONGEST_STEP,
    )
    if answer.status < 0:
        raise SolveError(f"the tank could not be integrated with another fuel: {answer.message}")
    pressures = np.array([tank_pressure(fuel, state_of(y), tank.volume) for y in answer.y.T])
    return OtherFuel(*(np.interp(result.time, time, row) for row in (answer.y[0], answer.y[3], pressures)))
