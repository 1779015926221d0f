"""Which input moves a figure most: each goes alone from its low to its high value (a tornado)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.band import Band
from fuelsim.errors import InputError
from fuelsim.interruption import WHOLE, Completion, Interruptible, run_steps
from fuelsim.shown import Shown
from fuelsim.studies.altitude import boiling_temperature
from fuelsim.studies.measures import Measure, measure_named
from fuelsim.studies.uncertain_inputs import tolerances
from fuelsim.studies.vary import Changes, points_asked, solve_changed
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, PlotAxes, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Sensitivity", "Spread", "sensitivity", "usual_spread"]

Spread: TypeAlias = tuple[Given, Given]
"""Low and high value of an input, as a user writes them."""


BELOW_BOILING = 1.0
"""How far below its boiling point the fuel stays in the warmest tank of the usual spread, K [assumed]."""


BATTERY_ALONE_TO_ALTERNATOR = (12.0, 14.4)
"""Voltage of the supply with the alternator failed, and charging, V."""


@dataclass(frozen=True)
class Sensitivity(Interruptible, Shown):
    """How far one measure moves as each input goes from its low to its high value, the others unchanged.

    Attributes
    ----------
    measure : Measure
        What is judged.
    base : float
        The measure as the car is, SI.
    inputs : tuple of str
        Dotted keys of the car and names of conditions, the one that moves the measure most first.
    low_input, high_input : tuple
        Values of each input, as given.
    low, high : array (inputs,)
        The measure there, SI; NaN where the point did not solve.
    completion : Completion
        How many inputs were tried before the end or before Ctrl-C.

    Examples
    --------
    >>> import fuelsim as fs
    >>> inputs = {"supply_voltage": (12.0, 14.4), "feed.bore": ("6 mm", "8 mm")}
    >>> result = fs.sensitivity(fs.Car.named("finch").system("return"), measure="bypass", inputs=inputs, rpm=6000)
    >>> bool(result.swing[0] >= result.swing[1])
    True
    """

    measure: Measure
    base: float
    inputs: tuple[str, ...]
    low_input: tuple[Given, ...]
    high_input: tuple[Given, ...]
    low: FloatArray
    high: FloatArray
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return what is judged, and the input that moves it most."""
        first = self.inputs[0] if self.inputs else "none"
        return f"{self.measure.about}, {len(self.inputs)} inputs; most by {first}"

    @property
    def swing(self) -> FloatArray:
        """Greatest less least of base, low and high for each input, SI; shape (inputs,)."""
        return _swing(self.base, np.stack([self.low, self.high], axis=1))

    @property
    def ends_without_value(self) -> tuple[tuple[str, Given], ...]:
        """Each input and its value at which the engine stops or the point did not solve, so that the measure is NaN."""
        ends = zip(self.inputs, self.low_input, self.low, self.high_input, self.high, strict=True)
        return tuple(
            (name, given)
            for name, low_input, low, high_input, high in ends
            for given, value in ((low_input, low), (high_input, high))
            if np.isnan(value)
        )

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per input: what it was set to, and the measure there.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> inputs = {"supply_voltage": (12.0, 14.4)}
        >>> fs.sensitivity(fs.Car.named("finch").system("return"), inputs=inputs, rpm=6000).table()["low"].tolist()
        ['12 V']
        """
        return opener.sensitivity_table(self, units)

    @takes()
    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the tornado.

        Parameters
        ----------
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> import fuelsim as fs
        >>> inputs = {"supply_voltage": (12.0, 14.4)}
        >>> len(fs.sensitivity(fs.Car.named("finch").system("return"), inputs=inputs, rpm=6000).plot().axes)
        1
        """
        return opener.tornado_figure(self, ax)


def _swing(base: float, ends: FloatArray) -> FloatArray:
    """Return the greatest less the least of a base and the ends (inputs, 2) of each input."""
    swing: FloatArray = np.fmax.reduce(ends, axis=1, initial=base) - np.fmin.reduce(ends, axis=1, initial=base)
    return swing


def usual_spread(system: System, conditions: Conditions) -> dict[str, Spread]:
    """Return low and high of the inputs that are usually least certain, for the parts the layout has.

    Ends of the tolerances of parts in `uncertain_inputs`; supply from a battery alone to an alternator; the tank 10 K
    cooler and 10 K warmer, but not so warm that its fuel boils in it.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    conditions : Conditions
        The operating point about which the inputs are varied.

    Returns
    -------
    dict of str to tuple
        Dotted key of the car, or name of a condition, to its low and high value, SI.

    Examples
    --------
    >>> import fuelsim as fs
    >>> spread = usual_spread(fs.Car.named("finch").system("return"), Conditions(rpm=6000))
    >>> spread["supply_voltage"]
    (12.0, 14.4)
    """
    car = system.car
    tank = conditions.tank_temperature
    if tank is None:
        tank = car.surroundings.fuel_temperature
    altitude = car.surroundings.altitude if conditions.altitude is None else conditions.altitude
    boils = float(np.ravel(boiling_temperature(system.fuel, altitude))[0])
    spread: dict[str, Spread] = {
        key: (band.low, band.high)
        for item in tolerances(system)
        if not item.added
        for key, band in item.values.items()
        if isinstance(band, Band)
    }
    spread["supply_voltage"] = BATTERY_ALONE_TO_ALTERNATOR
    spread["tank_temperature"] = (tank - 10.0, max(min(tank + 10.0, boils - BELOW_BOILING), tank))
    return spread


@system_or_car
@takes()
def sensitivity(
    system: System,
    conditions: Conditions | None = None,
    *,
    measure: str = "rail_pressure",
    inputs: Mapping[str, Spread] | None = None,
    rpm: Given | None = None,
    load: Given = 1.0,
    progress: bool | None = None,
) -> Sensitivity:
    """Return what a measure does at one operating point as each input alone goes from its low to its high value.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    conditions : Conditions, optional
        One operating point; or give `rpm` and `load`.
    measure : str
        A name of `fuelsim.studies.measures.MEASURES`.
    inputs : mapping, optional
        Dotted key of the car or name of a condition to (low, high); left out, `usual_spread`.
    rpm : float or str, optional
        Engine speed, rpm; left out, the red line.
    load : float or str
        Fraction of the full-load air charge.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Sensitivity

    Raises
    ------
    InputError
        For an unknown measure or input, or more than one operating point.
    KeyboardInterrupt
        After Ctrl-C before the car as it is has been solved.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> result = sensitivity(Car.named("finch").system("return"), inputs={"feed.bore": ("5 mm", "7 mm")}, rpm=6000)
    >>> result.inputs
    ('feed.bore',)
    """
    judged = measure_named(measure)
    point = _point(system, conditions, rpm, load)
    spread = usual_spread(system, point) if inputs is None else dict(inputs)
    changes: list[Changes] = [{}, *({key: end} for key, ends in spread.items() for end in ends)]

    def value_after(change: Changes) -> float:
        changed, run = solve_changed(system, change, point)
        return float(np.ravel(judged.at_points(changed, run))[0])

    values, completion = run_steps(changes, value_after, doing="sensitivity", of="inputs", progress=progress)
    if not values:
        raise KeyboardInterrupt
    base, complete = values[0], (len(values) - 1) // 2
    keys = list(spread)[:complete]
    ends = np.array(values[1 : 1 + 2 * complete]).reshape(-1, 2)
    order = np.argsort(-_swing(base, ends), kind="stable")
    return Sensitivity(
        measure=judged,
        base=base,
        inputs=tuple(keys[i] for i in order),
        low_input=tuple(spread[keys[i]][0] for i in order),
        high_input=tuple(spread[keys[i]][1] for i in order),
        low=ends[order, 0],
        high=ends[order, 1],
        completion=completion._replace(finished=complete, planned=len(spread)),
    )


def _point(system: System, conditions: Conditions | None, rpm: Given | None, load: Given) -> Conditions:
    conditions = points_asked(system, conditions, rpm, load)
    count = int(np.prod(conditions.shape))
    if count != 1:
        raise InputError("not one operating point", given=f"{count} points", accepted="one", key="rpm")
    return conditions
