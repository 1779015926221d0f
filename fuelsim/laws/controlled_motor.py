"""The motor of a speed-controlled pump: the speed that its voltage allows, and its voltage behind a wire."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = ["SpeedCeiling", "loaded_voltage_at_power", "speed_ceiling"]


class SpeedCeiling(NamedTuple):
    """Greatest speed of a speed-controlled motor behind its wire, N = at_no_current - per_current I(s).

    Attributes
    ----------
    at_no_current : array () or (points,)
        Speed without a fall of voltage in the wire, rpm.
    per_current : array () or (points,)
        Fall of the speed with the current of the bench at the same pressure rise, rpm/A.
    """

    at_no_current: FloatArray
    per_current: FloatArray


def speed_ceiling(
    supply_voltage: FloatLike, wire_resistance: FloatLike, full_speed_voltage: float, bench: tuple[float, float]
) -> SpeedCeiling:
    """Return the greatest speed that supply and wire give a speed-controlled motor.

    The back voltage of a motor is proportional to its speed, so the greatest speed is in proportion to the voltage at
    the motor, N = h N_b U_t/V_b with h = V_b/V_full; the fall in the winding is within V_full. Torque hardly depends on
    speed, so the power at one pressure rise is I_b V_b N/N_b, and at the greatest speed the current is h I_b at any
    voltage.

    Parameters
    ----------
    supply_voltage, wire_resistance : float or array (points,)
        Supply voltage U, V, and resistance of the wire, ohm.
    full_speed_voltage : float
        Least voltage V_full at the motor at which it reaches the highest speed tested, V.
    bench : tuple of two float
        Voltage V_b, V, and highest speed N_b, rpm, of the test.

    Returns
    -------
    SpeedCeiling

    Examples
    --------
    With 10 V behind 0.1 ohm and 5 A on the bench the motor has 10 - 0.1 (13.5/12) 5 = 9.4375 V of 12 V for 6000 rpm:

    >>> ceiling = speed_ceiling(10.0, 0.1, 12.0, bench=(13.5, 6000.0))
    >>> round(float(ceiling.at_no_current - 5.0 * ceiling.per_current), 6), 6000 * 9.4375 / 12
    (4718.75, 4718.75)
    """
    voltage, speed = bench
    per_volt, headroom = speed / full_speed_voltage, voltage / full_speed_voltage
    supply, wire = (np.asarray(x, dtype=float) for x in (supply_voltage, wire_resistance))
    return SpeedCeiling(per_volt * supply, per_volt * headroom * wire)


def loaded_voltage_at_power(
    supply_voltage: FloatLike, wire_resistance: FloatLike, power: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Return terminal voltage and current of a load that takes a given power, as a speed-controlled motor does.

    U_t = U - R P/U_t, so U_t = (U + sqrt(U^2 - 4 R P))/2. A wire transmits at most U^2/(4 R): beyond that the voltage
    remains U/2 and the power is not reached.

    Parameters
    ----------
    supply_voltage, wire_resistance, power : float or array
        Supply voltage U, V, resistance R of the wire, ohm, and power P of the load, W.

    Returns
    -------
    terminal_voltage, current : array
        Voltage U_t at the terminals, V, and current, A.

    Examples
    --------
    >>> volts, amps = loaded_voltage_at_power(13.0, 0.1, 120.0)
    >>> round(float(volts), 3), round(float(volts * amps), 6)
    (12.0, 120.0)
    """
    supply = np.asarray(supply_voltage, dtype=float)
    root = np.sqrt(np.maximum(supply**2 - 4.0 * np.asarray(wire_resistance) * power, 0.0))
    terminal = 0.5 * (supply + root)
    with np.errstate(divide="ignore", invalid="ignore"):
        starved = (supply - terminal) / np.asarray(wire_resistance)
        current = np.where(root > 0.0, power / terminal, starved)
    return terminal, np.where(supply > 0.0, current, 0.0)
