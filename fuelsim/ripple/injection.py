"""Which injector opens when: the order of firing, and the conductance of each injector over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fuelsim.errors import InputError
from fuelsim.typing import FloatArray, PointArray

__all__ = ["FIRING_ORDERS", "Injection", "firing_phases"]

FIRING_ORDERS: dict[int, tuple[int, ...]] = {
    1: (1,),
    2: (1, 2),
    3: (1, 3, 2),
    4: (1, 3, 4, 2),
    5: (1, 2, 4, 5, 3),
    6: (1, 5, 3, 6, 2, 4),
    8: (1, 5, 4, 8, 6, 3, 7, 2),
    12: (1, 12, 5, 8, 3, 10, 6, 7, 2, 11, 4, 9),
}
"""Usual orders, counted along the first rail and then along the second [common_practice]; the one of eight cylinders is
that of a V engine with a crossed crankshaft."""


def firing_phases(injectors: int, order: Sequence[int] | None, per_cycle: int) -> FloatArray:
    """Return when each injector opens in its cycle.

    Parameters
    ----------
    injectors : int
        Number of injectors.
    order : sequence of int or None
        Their numbers from 1, along the first rail and then the next, in the order in which they open; None for the
        usual one.
    per_cycle : int
        Injections of each in two turns of the crankshaft; from 2 on they open in two groups, in turn.

    Returns
    -------
    array (injectors,)
        Share of the time from one injection of an injector to its next.

    Raises
    ------
    InputError
        For an order that does not name each injector once.

    Examples
    --------
    >>> firing_phases(4, None, 1).tolist()
    [0.0, 0.75, 0.25, 0.5]
    """
    if order is None:
        order = FIRING_ORDERS.get(injectors, tuple(range(1, injectors + 1)))
    if sorted(order) != list(range(1, injectors + 1)):
        raise InputError(
            "an order that does not name each injector once",
            given=list(order),
            accepted=f"the numbers 1 to {injectors}, along the first rail and then the next",
            key="firing_order",
        )
    places = np.empty(injectors)
    places[np.array(order) - 1] = np.arange(injectors)
    if per_cycle > 1:
        return np.floor(2.0 * places / injectors) / 2.0
    return places / injectors


@dataclass(frozen=True)
class Injection:
    """Conductance of every injector over time.

    Attributes
    ----------
    phase : array (injectors,)
        As `firing_phases`.
    window : array (points,)
        Time from one injection of an injector to its next, s.
    open_fraction : array (injectors, points)
        Fraction of that time for which it passes fuel.
    conductance : array (injectors, points)
        Flow over the root of the pressure difference while it is open, m3/s/Pa^0.5.
    per_cycle : int
        Injections of each injector in two turns of the crankshaft.
    step : float
        Time step, s.
    steady : bool
        Whether all injectors are held partly open in place of pulsing, which gives the same flow without pulsation.
    """

    phase: FloatArray
    window: PointArray
    open_fraction: FloatArray
    conductance: FloatArray
    per_cycle: int
    step: float
    steady: bool = False

    @property
    def cycle(self) -> PointArray:
        """Time of two turns of the crankshaft, (points,), s."""
        return self.window * self.per_cycle

    def __call__(self, time: FloatArray) -> FloatArray:
        """Return the mean conductance over the step that ends at each time.

        Parameters
        ----------
        time : array (times,)
            s.

        Returns
        -------
        array (times, injectors, points)
            m3/s/Pa^0.5.
        """
        if self.steady:
            return np.broadcast_to(self.conductance * self.open_fraction, (len(time), *self.conductance.shape))
        ends = np.concatenate([time[:1] - self.step, time])[:, None, None] / self.window + self.phase[:, None]
        cycles = np.floor(ends)
        opened = self.open_fraction * cycles + np.minimum(ends - cycles, self.open_fraction)
        conductance: FloatArray = np.diff(opened, axis=0) * (self.window / self.step) * self.conductance
        return conductance
