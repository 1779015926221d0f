"""What one change buys: each of several changes alone, against the car as it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.errors import InputError
from fuelsim.interruption import WHOLE, Completion, Interruptible, run_steps
from fuelsim.shown import Shown
from fuelsim.studies.measures import Measure, measure_named
from fuelsim.studies.vary import Changes, points_asked, solve_changed
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Gains", "what_if"]

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
class Gains(Interruptible, Shown):
    """What each of several changes buys, against the car as it is.

    Attributes
    ----------
    changes : tuple of str
        Names of the changes finished.
    measures : tuple of Measure
        What they are judged by.
    base : array (measures, ...)
        The measures as the car is, SI, with the shape of the conditions.
    changed : array (changes, measures, ...)
        The measures with each change alone, SI.
    completion : Completion
        How many changes were tried before the end or before Ctrl-C.

    Examples
    --------
    >>> import fuelsim as fs
    >>> gains = fs.what_if(fs.Car.named("finch").system("return"), {"new": {"pump_wear": 0.0}}, rpm=6000)
    >>> float(gains.of("new", "bypass"))
    0.0
    """

    changes: tuple[str, ...]
    measures: tuple[Measure, ...]
    base: FloatArray
    changed: FloatArray
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return the changes, and by what they are judged."""
        measures = ", ".join(measure.name for measure in self.measures)
        return f"{len(self.changes)} changes ({', '.join(self.changes)}), judged by {measures}"

    @property
    def gain(self) -> FloatArray:
        """Changed less base, (changes, measures, ...), SI."""
        return self.changed - self.base

    def of(self, change: str, measure: str) -> FloatArray:
        """Return the gain of one change in one measure.

        Parameters
        ----------
        change : str
            One of `changes`.
        measure : str
            Name of one of `measures`.

        Returns
        -------
        array
            SI, with the shape of the conditions.

        Raises
        ------
        InputError
            For an unknown measure.

        Examples
        --------
        >>> import fuelsim as fs
        >>> gains = fs.what_if(fs.Car.named("finch").system("return"), {"worn": {"pump_wear": 0.1}}, rpm=6000)
        >>> bool(gains.of("worn", "bypass") < 0.0)
        True
        """
        names = [member.name for member in self.measures]
        gain: FloatArray = self.gain[self.changes.index(change), names.index(measure_named(measure).name)]
        return gain

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per change with what it adds to each measure; the first row is the car as it is.

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
        >>> gains = fs.what_if(fs.Car.named("finch").system("return"), {"worn": {"pump_wear": 0.1}}, rpm=6000)
        >>> gains.table().index.tolist()
        ['as it is', '+ worn']
        """
        return opener.gains_table(self, units)


@system_or_car
@takes()
def what_if(
    system: System,
    changes: Mapping[str, Changes],
    conditions: Conditions | None = None,
    *,
    measures: Sequence[str] = GAIN_MEASURES,
    rpm: Given | None = None,
    load: Given = 1.0,
    progress: bool | None = None,
) -> Gains:
    """Return what each change alone gains at one or more operating points.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    changes : mapping
        Name to changes, such as `vary` makes: dotted keys of the car and names of conditions.
    conditions : Conditions, optional
        The operating points; or give `rpm` and `load`.
    measures : sequence of str
        Names of the measures to compare.
    rpm : float or str, optional
        Engine speed, rpm; left out, the red line.
    load : float or str
        Fraction of the full-load air charge.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Gains

    Raises
    ------
    InputError
        For an unknown key or measure, or a value that is not accepted.
    KeyboardInterrupt
        After Ctrl-C before the first change is finished.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> gains = what_if(Car.named("heron").system("return"), {"10 AWG": {"wire.size": "10 AWG"}})
    >>> bool(gains.of("10 AWG", "pump_voltage") > 0.3)
    True
    """
    points = points_asked(system, conditions, rpm, load)
    if not measures:
        raise InputError(
            "no measures", accepted="names of measures, as 'rail_pressure'", part="what_if", key="measures"
        )
    judged = tuple(measure_named(name) for name in measures)

    def values_after(change: Changes) -> FloatArray:
        changed, run = solve_changed(system, change, points)
        return np.stack([measure.at_points(changed, run) for measure in judged])

    values, completion = run_steps(
        [{}, *changes.values()], values_after, doing="changes", of="changes", progress=progress
    )
    if not values:
        raise KeyboardInterrupt
    base, *changed = values
    return Gains(
        changes=tuple(changes)[: len(changed)],
        measures=judged,
        base=base,
        changed=np.stack(changed) if changed else np.empty((0, *base.shape)),
        completion=completion._replace(finished=len(changed), planned=len(changes)),
    )
