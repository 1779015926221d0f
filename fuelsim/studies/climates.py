"""Which layout gets through a traffic jam on the hot day of which place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.car.climate import hot_day
from fuelsim.transients.drive import drive
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.typing import PointArray

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.car.car import Car

__all__ = ["ClimateRow", "ClimateTable", "Verdict", "over_climates", "traffic_day"]

PLACES = ("kuwait", "phoenix", "delhi", "seville", "madrid", "denver", "mexico_city", "london")


class Verdict(IntEnum):
    """The worst that happens to a car on one day, from good to bad.

    A vapour lock is an engine that stops with vapour at a pump's inlet as the cause; other stops are a verdict apart.
    """

    STAYS_LIQUID = 0
    SHORT_OF_NPSH = 1
    VAPOUR_IN_RAIL = 2
    VAPOUR_AT_PUMP = 3
    PUMP_OVER_LIMIT = 4
    TANK_BOILS = 5
    RUNS_LEAN = 6
    ENGINE_STOPS = 7
    VAPOUR_LOCK = 8


_VERDICT_OF_EVENT = {
    EventName.NOISE: Verdict.SHORT_OF_NPSH,
    EventName.RAIL_MARGIN_GONE: Verdict.VAPOUR_IN_RAIL,
    EventName.PUMP_MARGIN_GONE: Verdict.VAPOUR_AT_PUMP,
    EventName.OVER_VAPOUR_LIMIT: Verdict.PUMP_OVER_LIMIT,
    EventName.TANK_BOILS: Verdict.TANK_BOILS,
    EventName.LEAN: Verdict.RUNS_LEAN,
    EventName.ENGINE_STOPS: Verdict.ENGINE_STOPS,
    EventName.VAPOUR_LOCK: Verdict.VAPOUR_LOCK,
}


@dataclass(frozen=True)
class ClimateRow:
    """One car in one layout on one hot day.

    Attributes
    ----------
    place, car, layout : str
        Names.
    hottest_air, hottest_tank : float
        Highest temperature of the ambient air and of the tank, K.
    least_pump_margin, least_rail_margin : float
        Least temperature to boiling at the pump's inlet and in the rail while the engine runs, K; negative where fuel
        boils.
    vapour_lost : float
        Mass of vapour that left by the vent, kg.
    verdict : Verdict
        The worst that happened.
    verdict_time : float
        When that began, s from the start; infinite where the fuel stays liquid.
    """

    place: str
    car: str
    layout: str
    hottest_air: float
    hottest_tank: float
    least_pump_margin: float
    least_rail_margin: float
    vapour_lost: float
    verdict: Verdict
    verdict_time: float

    @property
    def lock_time(self) -> float:
        """Time from the start until vapour lock, s; infinite if there is none."""
        return self.verdict_time if self.verdict is Verdict.VAPOUR_LOCK else np.inf


@dataclass(frozen=True)
class ClimateTable:
    """Cars and layouts over places.

    Attributes
    ----------
    rows : list of ClimateRow
        One per place, car and layout.
    """

    rows: list[ClimateRow]

    def table(self, units: str | None = None) -> pd.DataFrame:
        """Return one row per place, car and layout.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> table = over_climates([fs.Car.named("finch")], ["london"], ["returnless_tank"]).table("SI")
        >>> len(table)
        1
        """
        return opener.climate_table(self, units)

    def plot(self) -> Figure:
        """Draw what becomes of every car and layout at every place."""
        return opener.climate_figure(self)


def traffic_day(car: Car) -> Schedule:
    """Return half an hour of motorway, two hours of traffic jam at the hottest of the day and half an hour of city.

    Parameters
    ----------
    car : Car
        The car, whose engine says what idle and red line are.

    Returns
    -------
    Schedule

    Examples
    --------
    >>> import fuelsim as fs
    >>> [phase.name for phase in traffic_day(fs.Car.named("finch")).phases]
    ['motorway', 'jam', 'city']
    """
    return Schedule.of(
        [
            typical_phase("motorway", "30 min", car),
            typical_phase("jam", "2 h", car),
            typical_phase("city", "30 min", car),
        ],
        start_time="13 h",
    )


def over_climates(
    cars: Sequence[Car], places: Sequence[str] = PLACES, layouts: Sequence[str] | None = None
) -> ClimateTable:
    """Run each car and layout through `traffic_day` on the hot day of each place.

    Parameters
    ----------
    cars : sequence of Car
        The cars.
    places : sequence of str
        Names that `hot_day` takes.
    layouts : sequence of str, optional
        Names of layouts; those each car has the parts for, if left out.

    Returns
    -------
    ClimateTable

    Raises
    ------
    InputError
        For an unknown place or layout.

    Examples
    --------
    >>> import fuelsim as fs
    >>> row = over_climates([fs.Car.named("finch")], ["london"], ["returnless_tank"]).rows[0]
    >>> row.verdict.name, row.verdict_time
    ('STAYS_LIQUID', inf)
    """
    rows = []
    for place in places:
        for car in cars:
            for layout in car.layouts() if layouts is None else layouts:
                result = drive(car, layout, traffic_day(car), climate=hot_day(place), output_step="2 min")
                rows.append(_row(place, car, result))
    return ClimateTable(rows)


def _row(place: str, car: Car, result: Drive) -> ClimateRow:
    happened = [
        (_VERDICT_OF_EVENT[event.name], event.time) for event in result.events if event.name in _VERDICT_OF_EVENT
    ]
    # The worst that happens, when it first does.
    verdict, time = max(happened, key=lambda each: (each[0], -each[1]), default=(Verdict.STAYS_LIQUID, np.inf))
    return ClimateRow(
        place=place,
        car=car.name,
        layout=result.layout,
        hottest_air=float(np.max(result.air_temperature)),
        hottest_tank=float(np.max(result.tank_temperature)),
        least_pump_margin=_least(result.pump_margin),
        least_rail_margin=_least(result.rail_margin),
        vapour_lost=float(result.vapour_lost[-1]),
        verdict=verdict,
        verdict_time=time,
    )


def _least(margin: PointArray) -> float:
    return float(np.nanmin(margin)) if np.any(np.isfinite(margin)) else np.nan
