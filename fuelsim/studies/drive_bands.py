"""A drive over the bands of what is not known: between which times its events happen.

Three drives: the car as it is, and with all inputs together at the favourable and at the adverse end of their bands. An
event that every input moves one way happens between the times of these ends; `bands.event_band` asks each input alone
too, and says which of them moves an event most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.climate import Climate
from fuelsim.interruption import whole
from fuelsim.shown import Shown
from fuelsim.studies.bands import BandInput, band_inputs, car_at
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.transients.drive import OUTPUT_STEP, drive
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Schedule
from fuelsim.typing import Given, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["DriveBand", "EventRange", "drive_band"]


@dataclass(frozen=True)
class EventRange:
    """When an event first happens, over the bands.

    Attributes
    ----------
    name : EventName
        Kind of the event.
    part : str
        Part that it happens to; '' for the car.
    favourable, middle, adverse : float
        Time since the start with all inputs at that side of their bands, s; infinite where it does not happen.

    Examples
    --------
    >>> EventRange(EventName.VAPOUR_LOCK, "", 2640.0, 2100.0, 1860.0).sentence()
    'vapour lock between 31 and 44 min'
    """

    name: EventName
    part: str
    favourable: float
    middle: float
    adverse: float

    @property
    def earliest(self) -> float:
        """Least of the three times, s."""
        return min(self.favourable, self.middle, self.adverse)

    @property
    def latest(self) -> float:
        """Greatest of the three times, s; infinite where it does not happen at one of them."""
        return max(self.favourable, self.middle, self.adverse)

    def when(self) -> str:
        """Return the range in words.

        Examples
        --------
        >>> EventRange(EventName.LEAN, "", np.inf, 2100.0, 1860.0).when()
        'from 31 min on, or never'
        """
        first, last = f"{self.earliest / 60.0:.0f}", f"{self.latest / 60.0:.0f}"
        if not np.isfinite(self.earliest):
            return "never"
        if not np.isfinite(self.latest):
            return f"from {first} min on, or never"
        return f"at {first} min" if first == last else f"between {first} and {last} min"

    def sentence(self) -> str:
        """Return the event with its range in words."""
        return f"{self.name} {self.when()}"


@dataclass(frozen=True)
class DriveBand(Shown):
    """A drive over the bands of its inputs.

    Attributes
    ----------
    inputs : tuple of BandInput
        What was varied.
    favourable, middle, adverse : Drive
        The drive with all inputs at that side of their bands.
    """

    inputs: tuple[BandInput, ...]
    favourable: Drive
    middle: Drive
    adverse: Drive

    @property
    def headline(self) -> str:
        """Return the events with their ranges."""
        return self.sentence()

    @property
    def events(self) -> list[EventRange]:
        """Every event that happens at any side, at each part, in order of its earliest time."""
        sides = [self.favourable, self.middle, self.adverse]
        first: list[dict[tuple[EventName, str], float]] = []
        for result in sides:
            times: dict[tuple[EventName, str], float] = {}
            for event in result.events:
                times.setdefault((event.name, event.part), event.time)
            first.append(times)
        keys = dict.fromkeys(key for times in first for key in times)
        ranges = [EventRange(*key, *(times.get(key, np.inf) for times in first)) for key in keys]
        return sorted(ranges, key=lambda item: item.earliest)

    def sentence(self) -> str:
        """Return the events with their ranges, and over what they range.

        Returns
        -------
        str
        """
        names = [item.name for item in self.events]
        told = "; ".join(
            f"{item.part}: {item.sentence()}" if names.count(item.name) > 1 else item.sentence() for item in self.events
        )
        told = told or "no events"
        return f"{told}; over the bands of {', '.join(item.name for item in self.inputs)}."

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per event: when it happens with all inputs at their middle and at either end.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame
            Infinite times where the event does not happen.

        Examples
        --------
        >>> import fuelsim as fs
        >>> from fuelsim.transients.schedule import Phase
        >>> idle = Schedule.of([Phase(name="idle", duration="1 min")])
        >>> len(drive_band(fs.Car.named("finch"), "return", idle, tank_temperature="20 degC").table())
        0
        """
        return opener.event_range_table(self, units)

    def plot(self) -> Figure:
        """Draw the drive with the range of its tank temperature and of its events."""
        return opener.drive_band_figure(self)


@system_or_car
@takes({"tank_temperature": ONE_CONDITION["tank_temperature"], "output_step": OUTPUT_STEP})
def drive_band(
    car: Car,
    layout: str,
    schedule: Schedule,
    *,
    inputs: Sequence[BandInput] | None = None,
    climate: Climate | None = None,
    tank_temperature: Given | None = None,
    output_step: Given = 60.0,
) -> DriveBand:
    """Run a car through a schedule as it is, and with all inputs at either end of their bands.

    Parameters
    ----------
    car : Car
    layout : str
        One of the car's own layouts.
    schedule : Schedule
        The phases of the drive.
    inputs : list of BandInput, optional
        `band_inputs` of the car, if left out.
    climate, tank_temperature, output_step : optional
        As `drive` takes them.

    Returns
    -------
    DriveBand

    Raises
    ------
    InputError
        For an unknown layout, or a start above the fuel's boiling point.
    SolveError
        If an integration fails.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.transients.schedule import typical_phase
    >>> car = fs.Car.named("heron")
    >>> jam = Schedule.of([typical_phase("jam", "10 min", car)])
    >>> drive_band(car, "return", jam, tank_temperature="47 degC").sentence()[:5]
    'noise'
    """
    varied = band_inputs(car) if inputs is None else tuple(inputs)
    return DriveBand(
        tuple(varied),
        *(
            whole(
                drive(
                    car_at(car, varied, side),
                    layout,
                    schedule,
                    climate=climate,
                    tank_temperature=tank_temperature,
                    output_step=output_step,
                )
            )
            for side in ("favourable", "middle", "adverse")
        ),
    )
