"""What drives each pump: its own wire from the one supply, and what its controller makes of it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.parts.pump.pump import Pump
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import PlannedLink, Plumbing
from fuelsim.typing import FloatLike, PointArray

__all__ = ["PumpDrive", "pump_drive"]


class PumpDrive(NamedTuple):
    """What drives one pump; every array is (points,).

    Attributes
    ----------
    supply_voltage : array
        V at the battery or alternator.
    resistance : array
        Resistance of the pump's wire and controller, ohm.
    duty : array
        Share of the time the pump is switched on.
    speed : array
        Speed of a speed-controlled pump, rpm; 0 for others.
    """

    supply_voltage: PointArray
    resistance: FloatLike
    duty: PointArray
    speed: PointArray


def pump_drive(plumbing: Plumbing, pump: PlannedLink[Pump], points: OperatingPoints) -> PumpDrive:
    """Return what drives a pump at each operating point.

    Parameters
    ----------
    plumbing : Plumbing
    pump : PlannedLink
        One of its pumps.
    points : OperatingPoints

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").system("return")
    >>> [link.name for link in system.plumbing.pumps]
    ['pump']
    """
    resistance = plumbing.wires[pump.name].resistance
    if pump.table == "pump":
        return PumpDrive(
            points.supply_voltage, resistance + points.pump_resistance, points.pump_duty, points.pump_speed
        )
    speed = np.full(len(points), pump.part.bench_speed or 0.0)
    return PumpDrive(points.supply_voltage, resistance, points.asked_duty, speed)
