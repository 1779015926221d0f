"""Which layout gets through a traffic jam on the hot day of which place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.car.climate import hot_day
from fuelsim.transients.drive import Drive, drive
from fuelsim.transients.schedule import Schedule, typical_phase

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.car.car import Car

__all__ = ["ClimateRow", "ClimateTable", "over_climates", "traffic_day"]

PLACES = ("kuwait", "phoenix", "delhi", "seville", "madrid", "denver", "mexico_city", "london")


@dataclass(frozen=True)
class ClimateRow:
    """One car in one layout on one hot day.

    Attributes
    ----------
    place, car, layout : str
    hottest_air, hottest_tank : float
        K.
    least_pump_margin, least_rail_margin : float
        K to boiling while no vapour lock holds; negative where fuel boils.
    vapour_lost : float
        kg out of the vent.
    lock_time : float
        s from the start until vapour lock, infinite if none.
    verdict : str
        What happened, in words.
    """

    place: str
    car: str
    layout: str
    hottest_air: float
    hottest_tank: float
    least_pump_margin: float
    least_rail_margin: float
    vapour_lost: float
    lock_time: float
    verdict: str


@dataclass(frozen=True)
class ClimateTable:
    """Cars and layouts over places.

    Attributes
    ----------
    rows : list of ClimateRow
    """

    rows: list[ClimateRow]

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per place, car and layout."""
        return opener.climate_table(self, system)

    def plot(self) -> Figure:
        """Draw what becomes of every car and layout at every place."""
        return opener.climate_figure(self)


def traffic_day(car: Car) -> Schedule:
    """Return half an hour of motorway, two hours of traffic jam at the hottest of the day and half an hour of city."""
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
    places : sequence of str
        Names that `hot_day` takes.
    layouts : sequence of str, optional
        Those the car has the parts for, if left out.

    Returns
    -------
    ClimateTable

    Examples
    --------
    >>> import fuelsim as fs
    >>> found = over_climates([fs.Car.named("finch")], ["london"], ["returnless_tank"])
    >>> found.rows[0].verdict
    'stays liquid'
    """
    rows = []
    for place in places:
        for car in cars:
            for layout in car.layouts() if layouts is None else layouts:
                result = drive(car, layout, traffic_day(car), climate=hot_day(place), output_step="2 min")
                rows.append(_row(place, car, result))
    return ClimateTable(rows)


def _row(place: str, car: Car, result: Drive) -> ClimateRow:
    first = {event.name: event.time for event in result.events}
    lock = first.get("vapour lock", np.inf)
    if np.isfinite(lock):
        verdict = f"vapour lock after {lock / 60.0:.0f} min"
    elif "tank boils" in first:
        verdict = f"tank boils from {first['tank boils'] / 60.0:.0f} min"
    elif "pump margin gone" in first:
        verdict = f"vapour at the pump from {first['pump margin gone'] / 60.0:.0f} min"
    elif "rail margin gone" in first:
        verdict = f"vapour in the rail from {first['rail margin gone'] / 60.0:.0f} min"
    elif "noise" in first:
        verdict = f"liquid, short of quiet running from {first['noise'] / 60.0:.0f} min"
    else:
        verdict = "stays liquid"
    return ClimateRow(
        place,
        car.name,
        result.layout,
        float(np.max(result.air_temperature)),
        float(np.max(result.tank_temperature)),
        _least(result, "pump_inlet"),
        _least(result, "rail"),
        float(result.vapour_lost[-1]),
        float(lock),
        verdict,
    )


def _least(result: Drive, station: str) -> float:
    margin = np.where(result.vapour_lock, np.nan, result.vapour_margin[station])
    return float(np.nanmin(margin)) if np.any(np.isfinite(margin)) else np.nan
