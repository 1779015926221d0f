"""The system curve: pressure that a car asks of one of its pumps over the flow it would deliver."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.car.peak_power import given_peak_power
from fuelsim.errors import InputError
from fuelsim.parts.pump.pump import Pump
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbing_paths import pumps_to_rails
from fuelsim.system.run import System
from fuelsim.typing import FloatArray

__all__ = ["SystemCurve", "WorkingPoint", "system_curve"]

VOLTAGES = np.linspace(0.45, 1.15, 29)
"""Supply voltages, over the car's own, that drive the pump along the curve; at the first few nothing is delivered."""


class WorkingPoint(NamedTuple):
    """Flow of a pump, m3/s, and its pressure rise, Pa; NaN where the engine does not run.

    Examples
    --------
    >>> WorkingPoint(3e-5, 3.1e5).rise
    310000.0
    """

    flow: float
    rise: float


class SystemCurve(NamedTuple):
    """What a system asks of a pump.

    Attributes
    ----------
    flow, rise : array (points,)
        Flow, m3/s, rising, and pressure rise, Pa.
    operating : WorkingPoint
        Where the pump works at the car's own voltage.
    rpm : float
        Engine speed, rpm.

    Examples
    --------
    >>> SystemCurve(np.array([1e-5, 2e-5]), np.array([3.0e5, 3.1e5]), WorkingPoint(2e-5, 3.1e5), 800.0).flow.size
    2
    """

    flow: FloatArray
    rise: FloatArray
    operating: WorkingPoint
    rpm: float


def system_curve(system: System, pump: Pump, rpm: float | None = None, load: float = 1.0) -> SystemCurve:
    """Return what a system asks of one of its pumps at one engine speed and load.

    Parameters
    ----------
    system : System
        A car whose rails the pump feeds.
    pump : Pump
        Equal to one of its pumps.
    rpm, load : float
        Engine speed, rpm, that of the greatest power if left out, and load.

    Returns
    -------
    SystemCurve

    Raises
    ------
    InputError
        For a pump that is none of the system's.

    Notes
    -----
    The pump is driven by a supply of less or more volts: its operating points lie on the curve of the rest.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> car = Car.named("heron")
    >>> curve = system_curve(car.system("return"), car.pump)
    >>> bool(np.all(np.diff(curve.flow) > 0.0)), round(curve.rpm)
    (True, 5400)
    """
    link = next((each for each in pumps_to_rails(system.plumbing) if each.part == pump), None)
    if link is None:
        names = ", ".join(each.name for each in pumps_to_rails(system.plumbing))
        raise InputError("the system has another pump", given=pump, accepted=f"its own: {names}", part="system_curve")
    if rpm is None:
        power = given_peak_power(system.car.engine)
        rpm = system.car.engine.red_line if power is None else power.speed
    speed = float(rpm)
    own = float(np.ravel(system.filled(Conditions(rpm=speed)).supply_voltage)[0])
    run = system.solve(rpm=speed, load=load, supply_voltage=[*(own * VOLTAGES), own])
    flow = np.asarray(run.while_running(run.flow[link.name]))
    rise = np.asarray(run.while_running(run.pressure[link.downstream] - run.pressure[link.upstream]))
    order = np.argsort(flow[:-1], kind="stable")
    order = order[np.isfinite(flow[order]) & (flow[order] > 0.0)]
    kept = order[np.concatenate([[True], np.diff(flow[order]) > 0.0])] if order.size else order
    return SystemCurve(flow[kept], rise[kept], WorkingPoint(float(flow[-1]), float(rise[-1])), speed)
