"""How long a car idles in traffic before its pump gets loud, it runs lean, or stops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.interruption import WHOLE, Completion, Interruptible, run_steps, whole
from fuelsim.shown import Shown
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.transients.drive import drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.typing import Quantity, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["IdleTime", "LongestIdle", "longest_idle"]

STOPS = (EventName.ENGINE_STOPS, EventName.VAPOUR_LOCK, EventName.FUEL_EXHAUSTED)
WATCHED = {
    "pump_loud": (EventName.NOISE, EventName.PUMP_MARGIN_GONE, EventName.OVER_VAPOUR_LIMIT),
    "tank_boils": (EventName.TANK_BOILS,),
    "runs_lean": (EventName.LEAN,),
    "stops": STOPS,
}
"""Columns, and the events of which each is the first."""


@dataclass(frozen=True)
class IdleTime:
    """How long the car idles at one air temperature with one fill.

    Attributes
    ----------
    air_temperature : float
        Temperature of the air all day, K.
    fill : float
        Fuel in the tank at the start as a fraction of its volume.
    hottest_tank : float
        Greatest temperature of the fuel in the tank, K.
    times : dict of str to float
        First time of each of `WATCHED`, s; infinite where it does not happen.
    """

    air_temperature: float
    fill: float
    hottest_tank: float
    times: dict[str, float]


@dataclass(frozen=True)
class LongestIdle(Interruptible, Shown):
    """How long a car idles in traffic.

    Attributes
    ----------
    car : str
        Name of the car.
    layout : str
        Its layout.
    longest : float
        Time for which it was asked, s.
    rows : tuple of IdleTime
        Every air temperature with every fill.
    completion : Completion
        How many of them are finished.

    Examples
    --------
    >>> import fuelsim as fs
    >>> fs.longest_idle(fs.Car.named("finch"), "return", "30 degC", longest="20 min")
    <LongestIdle: Finch, return: at 30 °C with 50 % of the tank it idles for 20 min and longer>
    """

    car: str
    layout: str
    longest: float
    rows: tuple[IdleTime, ...]
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return the shortest of the times until the engine stops."""
        row = min(self.rows, key=lambda each: each.times["stops"])
        time = row.times["stops"]
        told = f"until it stops after {time / 60.0:.0f} min"
        if not np.isfinite(time):
            told = f"for {self.longest / 60.0:.0f} min and longer"
        air = shown(row.air_temperature, "temperature", digits=3)
        return f"{self.car}, {self.layout}: at {air} with {100.0 * row.fill:.0f} % of the tank it idles {told}"

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per air temperature and fill: minutes until each event, and the hottest tank.

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
        >>> idle = fs.longest_idle(fs.Car.named("finch"), "return", "30 degC", longest="20 min")
        >>> list(idle.table())[2:]
        ['hottest_tank_degC', 'pump_loud_min', 'tank_boils_min', 'runs_lean_min', 'stops_min']
        """
        return opener.longest_idle_table(self, units)


@system_or_car
@takes(
    {
        "air_temperature": number("temperature", 233.15, 333.15, flat=True, example="40 degC"),
        "fill": number("fraction", 0.02, 0.99, flat=True, example="25 %"),
        "longest": number("time", 60.0, 86_400.0, single=True, example="3 h"),
        "air_conditioning": number("fraction", 0.0, 1.0, single=True, example="50 %"),
        "tank_temperature": number("temperature", 233.15, 353.15, single=True, optional=True, example="45 degC"),
    }
)
def longest_idle(
    car: Car,
    layout: str,
    air_temperature: Quantity,
    *,
    fill: Quantity = 0.5,
    longest: Quantity = 3.0 * 3600.0,
    tank_temperature: Quantity = None,
    air_conditioning: Quantity = 0.0,
    progress: bool | None = None,
) -> LongestIdle:
    """Return how long a car idles in traffic before its pump gets loud, it runs lean or stops.

    Each case is a drive of one phase, a jam in the sun, with air of one temperature all day.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.
    air_temperature : float, str or array (temperatures,)
        Temperature of the air, K.
    fill : float, str or array (fills,)
        Fuel in the tank as a fraction of its volume: less fuel warms faster.
    longest : float or str
        Time after which the question is given up, s.
    tank_temperature : float or str, optional
        Temperature of the fuel at the start, K; that of the air if left out.
    air_conditioning : float
        Share of the time that the air conditioning's compressor runs.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    LongestIdle

    Raises
    ------
    InputError
        For a start above the fuel's boiling point or a value that is not plausible.
    KeyboardInterrupt
        After Ctrl-C before the first case is finished.

    Examples
    --------
    >>> import fuelsim as fs
    >>> idle = longest_idle(fs.Car.named("finch"), "return", "40 degC", fill=["25 %", "75 %"], longest="1 h")
    >>> bool(idle.rows[0].hottest_tank > idle.rows[1].hottest_tank)
    True
    """
    cases = [(float(air), float(share)) for air in np.atleast_1d(air_temperature) for share in np.atleast_1d(fill)]

    def idle(case: tuple[float, float]) -> IdleTime:
        air, share = case
        filled = car.with_values(
            {"surroundings.air_temperature": air, "tank.fuel_volume": share * float(car.tank.volume)}
        )
        jam = typical_phase("jam", float(longest), filled, air_conditioning=float(air_conditioning))
        start = air if tank_temperature is None else float(tank_temperature)
        result = whole(drive(filled, layout, Schedule.of([jam], start_time="13 h"), tank_temperature=start))
        times = {
            column: min((event.time for event in result.events if event.name in names), default=np.inf)
            for column, names in WATCHED.items()
        }
        return IdleTime(air, share, float(np.max(result.tank_temperature)), times)

    rows, completion = run_steps(cases, idle, doing="idling", of="cases", progress=progress)
    if not rows:
        raise KeyboardInterrupt
    return LongestIdle(car.name, layout, float(longest), tuple(rows), completion)
