"""What costs the pressure: drop by part, tornado of the inputs, and what one change buys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener
from fuelsim.errors import InputError
from fuelsim.studies.measures import Measure, measure_named
from fuelsim.studies.progress import run_steps
from fuelsim.studies.vary import Changes, solve_changed
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import System

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Gains", "Sensitivity", "sensitivity", "usual_spread", "what_if"]

GAIN_MEASURES = (
    "rail_pressure",
    "bypass",
    "injector_duty",
    "pump_voltage",
    "pump_current",
    "inlet_vapour_margin",
    "rail_vapour_margin",
)
"""What a change is judged by, unless asked otherwise."""


@dataclass(frozen=True)
class Sensitivity:
    """How far one measure moves as each input goes from its low to its high value, the others standing still.

    Attributes
    ----------
    measure : Measure
    base : float
        The measure as the car is, SI.
    inputs : tuple of str
        Sorted: the one that moves the measure most comes first.
    low_input, high_input : tuple
        What each input was set to.
    low, high : array (inputs,)
        The measure there, SI; NaN where the point did not solve.
    interrupted : bool
        Whether Ctrl-C ended it early; the inputs listed are complete.
    """

    measure: Measure
    base: float
    inputs: tuple[str, ...]
    low_input: tuple[Any, ...]
    high_input: tuple[Any, ...]
    low: Any
    high: Any
    interrupted: bool = False

    @property
    def swing(self) -> Any:
        """Greatest less least of base, low and high for each input, SI."""
        values = np.stack([self.low, self.high, np.full(len(self.inputs), self.base)])
        return np.fmax.reduce(values) - np.fmin.reduce(values)

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per input: what it was set to, and the measure there."""
        return opener.sensitivity_table(self, system)

    def plot(self) -> Figure:
        """Draw the tornado."""
        return opener.tornado_figure(self)


def usual_spread(system: System, conditions: Conditions) -> dict[str, tuple[Any, Any]]:
    """Return low and high of the inputs that are usually least certain, for the parts the layout has.

    Pump flow and current within a class +-10 %, resistances, clogging and loss coefficients: from memory; bores +-5 %:
    assumed; supply from a battery alone to an alternator.
    """
    car, plumbing = system.car, system.plumbing
    tank = conditions.tank_temperature
    if tank is None:
        tank = car.surroundings.tank_temperature or car.surroundings.air_temperature
    spread: dict[str, tuple[Any, Any]] = {
        "pump_wear": (0.10, -0.10),
        "supply_voltage": (12.0, 14.4),
        "wire.other": (0.1, 0.0),
        "filter_clogging": (4.0, 1.0),
        "tank_temperature": (tank - 10.0, tank + 10.0),
    }
    for link in plumbing.regulators:
        part = link.part
        spread[f"{link.table}.set_pressure"] = (0.98 * part.set_pressure, 1.02 * part.set_pressure)
        spread[f"{link.table}.droop"] = (0.5 * part.droop, 2.0 * part.droop)
    for line in plumbing.lines:
        if getattr(car, line.table) is not None:
            bore, loss = line.part.bore, line.part.loss_coefficient
            spread[f"{line.table}.bore"] = (0.95 * bore, 1.05 * bore)
            spread[f"{line.table}.loss_coefficient"] = (2.0 * loss, 0.5 * loss)
    consumption = car.engine.brake_specific_fuel_consumption
    if consumption is not None and np.ndim(consumption) == 0:
        spread["engine.brake_specific_fuel_consumption"] = (0.9 * consumption, 1.1 * consumption)
    return spread


def sensitivity(
    system: System,
    conditions: Conditions | None = None,
    *,
    measure: str = "rail_pressure",
    inputs: Mapping[str, tuple[Any, Any]] | None = None,
    rpm: Any = None,
    load: Any = 1.0,
    progress: bool | None = None,
) -> Sensitivity:
    """Move each input alone from its low to its high value and see what a measure does at one operating point.

    Parameters
    ----------
    system : System
    conditions : Conditions, optional
        One operating point; or give `rpm` and `load`.
    measure : str
        A name of `fuelsim.studies.measures.MEASURES`.
    inputs : mapping, optional
        Dotted key of the car or name of a condition to (low, high); `usual_spread`, if left out.
    rpm, load : quantity, optional
        Red line at full load, if all is left out.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Sensitivity

    Raises
    ------
    InputError
        For an unknown measure or input, or more than one operating point.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> found = sensitivity(Car.named("finch").system("return"), inputs={"feed.bore": ("5 mm", "7 mm")}, rpm=6000)
    >>> found.inputs
    ('feed.bore',)
    """
    wanted = measure_named(measure)
    point = _point(system, conditions, rpm, load)
    spread = usual_spread(system, point) if inputs is None else dict(inputs)
    changes: list[Changes] = [{}, *({key: end} for key, ends in spread.items() for end in ends)]

    def judged(change: Changes) -> float:
        changed, run = solve_changed(system, change, point)
        value = wanted.of(changed, run)
        return np.nan if value is None else float(np.ravel(value)[0])

    values, interrupted = run_steps(changes, judged, doing="sensitivity", progress=progress)
    if not values:
        raise KeyboardInterrupt
    whole = (len(values) - 1) // 2
    keys = list(spread)[:whole]
    ends = np.array(values[1 : 1 + 2 * whole]).reshape(-1, 2)
    swing = np.fmax.reduce(ends, axis=1, initial=values[0]) - np.fmin.reduce(ends, axis=1, initial=values[0])
    order = np.argsort(-swing, kind="stable")
    return Sensitivity(
        measure=wanted,
        base=values[0],
        inputs=tuple(keys[i] for i in order),
        low_input=tuple(spread[keys[i]][0] for i in order),
        high_input=tuple(spread[keys[i]][1] for i in order),
        low=ends[order, 0],
        high=ends[order, 1],
        interrupted=interrupted,
    )


def _point(system: System, conditions: Conditions | None, rpm: Any, load: Any) -> Conditions:
    if conditions is None:
        conditions = Conditions(rpm=system.car.engine.red_line if rpm is None else rpm, load=load)
    elif rpm is not None:
        raise InputError("conditions and rpm together", accepted="one or the other", key="rpm")
    count = int(np.prod(conditions.shape))
    if count != 1:
        raise InputError("not one operating point", given=f"{count} points", accepted="one", key="rpm")
    return conditions


@dataclass(frozen=True)
class Gains:
    """What each of several changes buys, against the car as it is.

    Attributes
    ----------
    changes : tuple of str
        Names of the changes finished.
    measures : tuple of Measure
    base : array (measures, ...)
        As the car is, SI, with the shape of the conditions.
    changed : array (changes, measures, ...)
        With each change alone.
    interrupted : bool
        Whether Ctrl-C ended it early.
    """

    changes: tuple[str, ...]
    measures: tuple[Measure, ...]
    base: Any
    changed: Any
    interrupted: bool = False

    @property
    def gain(self) -> Any:
        """Changed less base, (changes, measures, ...), SI."""
        return self.changed - self.base

    def of(self, change: str, measure: str) -> Any:
        """Return the gain of one change in one measure, SI."""
        names = [member.name for member in self.measures]
        return self.gain[self.changes.index(change), names.index(measure_named(measure).name)]

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per change with what it adds to each measure; the first row is the car as it is."""
        return opener.gains_table(self, system)


def what_if(
    system: System,
    changes: Mapping[str, Changes],
    conditions: Conditions | None = None,
    *,
    measures: Sequence[str] = GAIN_MEASURES,
    rpm: Any = None,
    load: Any = 1.0,
    progress: bool | None = None,
) -> Gains:
    """See what each change alone buys at one or more operating points.

    Parameters
    ----------
    system : System
    changes : mapping
        Name to changes, such as `vary` makes: dotted keys of the car and names of conditions.
    conditions : Conditions, optional
        Or give `rpm` and `load`.
    measures : sequence of str
    rpm, load : quantity, optional
        Red line at full load, if all is left out.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Gains

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> gains = what_if(Car.named("heron").system("return"), {"10 AWG": {"wire.size": "10 AWG"}})
    >>> bool(gains.of("10 AWG", "pump_voltage") > 0.3)
    True
    """
    if conditions is None:
        conditions = Conditions(rpm=system.car.engine.red_line if rpm is None else rpm, load=load)
    wanted = tuple(measure_named(name) for name in measures)

    def judged(change: Changes) -> Any:
        changed, run = solve_changed(system, change, conditions)
        values = [measure.of(changed, run) for measure in wanted]
        shape = run.conditions.shape
        return np.stack([np.broadcast_to(np.nan if value is None else value, shape) for value in values])

    found, interrupted = run_steps([{}, *changes.values()], judged, doing="changes", progress=progress)
    if not found:
        raise KeyboardInterrupt
    names = tuple(changes)[: len(found) - 1]
    changed = np.stack(found[1:]) if names else np.empty((0, *found[0].shape))
    return Gains(names, wanted, found[0], changed, interrupted)
