r"""The curve of a pump whose clearances are worn: fuel leaks back inside it, the more the higher its pressure rise.

Laminar flow through a narrow gap is proportional to the pressure across it (flow between parallel plates), so the worn
pump delivers

.. math:: q' = q - G\,r(q)

at the pressure rise r(q) of the sound one. It loses nothing without a pressure rise, and its dead-head pressure is the
one at which the sound pump delivers just the leak. At a lower voltage the leak at one pressure stays as it is and takes
a larger part of the flow. That the gap of a worn pump is laminar is assumed [assumed]; a turbulent one would leak with
the square root of the pressure.
"""

from __future__ import annotations

import numpy as np

from fuelsim.laws.pump_curve import PumpCoefficients, PumpTable, pump_loss
from fuelsim.numerics.bracket import bisect
from fuelsim.numerics.cubic import falling_slopes
from fuelsim.typing import BoolArray, FloatArray, FloatLike

__all__ = ["leaking_table"]

_BISECTIONS = 8
"""Halvings of the flow's bracket: to an eighth of a knot's width, from where Newton's steps square the error."""
_NEWTON_STEPS = 4


def leaking_table(table: PumpTable, leak_per_pressure: FloatLike) -> PumpTable:
    """Return the curve of a pump with an internal leak.

    Parameters
    ----------
    table : PumpTable
        Curve of the sound pump; every array has a last axis of 1 or of points.
    leak_per_pressure : float or array (points,)
        Leak over pressure rise G, m3/s/Pa, not negative.

    Returns
    -------
    PumpTable
        On as many knots, evenly spaced up to its own run-out flow.

    Examples
    --------
    A straight curve of 400 kPa and 100 mL/s with a leak of 0.25 mL/s per kPa: by hand, 200 kPa at dead-head.

    >>> sound = PumpTable(np.array([1e-4]), np.linspace(4e5, 0.0, 5)[:, None], np.full((5, 1), -4e9))
    >>> leaking_table(sound, 0.25e-9).rise.ravel().round(3).tolist()
    [200000.0, 150000.0, 100000.0, 50000.0, 0.0]
    """
    leak = np.atleast_1d(np.asarray(leak_per_pressure, dtype=float))
    shape = np.broadcast_shapes(leak.shape, table.largest_flow.shape)
    knots = len(table.rise)
    largest = np.broadcast_to(table.largest_flow, shape)
    rise, slope = (np.broadcast_to(each, (knots, *shape)) for each in (table.rise, table.slope))
    sound = PumpCoefficients(largest, rise[:, None], slope[:, None], np.inf)
    own_largest = largest - leak * rise[-1]
    wanted = np.linspace(0.0, 1.0, knots)[:, None] * own_largest

    def delivers_less(flow: FloatArray) -> BoolArray:
        return np.asarray(flow + leak * pump_loss(flow, sound)[0] < wanted)

    flow = bisect(delivers_less, np.zeros(wanted.shape), np.broadcast_to(largest, wanted.shape), _BISECTIONS)
    for _ in range(_NEWTON_STEPS):
        loss, steepness = pump_loss(flow, sound)
        flow = np.clip(flow - (flow + leak * loss - wanted) / (1.0 + leak * steepness), 0.0, largest)
    loss, steepness = pump_loss(flow, sound)
    secant = -np.diff(loss, axis=0) * (knots - 1) / own_largest
    own_slope = falling_slopes(-steepness / (1.0 + leak * steepness), secant, (loss[0] - loss[-1]) / own_largest)
    return PumpTable(own_largest, -loss, own_slope)
