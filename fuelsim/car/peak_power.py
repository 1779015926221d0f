"""The greatest power that an engine's own figures give."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.car.engine import Engine

__all__ = ["PeakPower", "given_peak_power"]


class PeakPower(NamedTuple):
    """The greatest power of an engine.

    Attributes
    ----------
    power : float
        W.
    speed : float
        rpm.
    """

    power: float
    speed: float


def given_peak_power(engine: Engine) -> PeakPower | None:
    """Return the greatest power that an engine's own figures give; None where they are volumetric efficiencies.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    PeakPower or None

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> round(given_peak_power(Car.named("finch").engine).power)
    92000
    """
    if engine.peak_power is not None:
        return PeakPower(float(engine.peak_power), float(engine.peak_power_speed))
    if engine.powers is None and engine.torques is None:
        return None
    speeds = np.asarray(engine.speeds, dtype=float)
    powers = engine.torques * speeds * np.pi / 30.0 if engine.powers is None else np.asarray(engine.powers)
    return PeakPower(float(np.max(powers)), float(speeds[int(np.argmax(powers))]))
