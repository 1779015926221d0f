"""Hot restart: a soak, then key-on, prime and cranking up to a steady idle, and what would shorten it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import VOLTAGE, Quantity, number, takes
from fuelsim.interruption import interruption_noted
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.transients.leak_down import LEAK
from fuelsim.transients.rail_filling import CRANK_TIME, FILMS, NO_GAS, STEADY_FRACTION, FilledRail
from fuelsim.transients.restart import Starting, restarted
from fuelsim.transients.shut_in_course import GOOD_LEAK, Leaks, bleed_area, idle_before_stop, shut_in_course
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.stagnant_rail import rails_of
from fuelsim.transients.start_of_pumps import PRIME_TIME
from fuelsim.transients.world import SOAK_PEAK
from fuelsim.typing import BoolArray, FloatArray, PlotAxes, PointArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["HotRestart", "RestartRemedy", "StartTimes", "hot_restart"]

LONGER_PRIME = 5.0
"""Duration of the longer prime of the ladder, s [assumed]."""
LADDER_BLEED = 0.6e-3
"""Diameter of the bleed of the ladder, m [assumed]."""
LADDER_PRESSURE = 100e3
"""By how much the ladder raises the set pressure, Pa [assumed]."""
SHIELD_SHARE = 0.4
"""Heat that still reaches a shielded rail from air and metal, as a share [assumed]."""


_TOLD = 1e-9
"""Least volume of vapour that is told, m3 (numerical)."""
_SHOWN_AFTER = 1.5
"""Time after the first firing that is shown at the least, s."""


class StartTimes(NamedTuple):
    """Seconds from key-on; infinite where a minute of cranking does not do it.

    Attributes
    ----------
    pressure : float
        Until 95 % of the set pressure is there, s.
    liquid : float
        Until the injectors have liquid at that pressure, s.
    idle : float
        Until the engine idles steadily: it fires, half a second of cranking at the least, no vapour is left in the
        rail, and the pressure stays above 98 % of the set pressure, s.
    cranked : float
        Seconds of cranking until it fires, s.
    """

    pressure: float
    liquid: float
    idle: float
    cranked: float


class RestartRemedy(NamedTuple):
    """One change, and the start with it.

    Attributes
    ----------
    name : str
        What is changed.
    times : StartTimes
        The start with it.
    """

    name: str
    times: StartTimes


@dataclass(frozen=True)
class HotRestart(Shown):
    """A start after a soak; every array is (times,).

    Attributes
    ----------
    layout : str
        Name of the layout.
    soak_time : float
        Time from the stop to key-on, s.
    before_temperature : float
        Temperature of the hottest rail at key-on, K.
    before_pressure : float
        Gauge pressure left at key-on, Pa.
    before_vapour : float
        Volume of vapour in the rails at key-on, m3.
    pump_vapour : float
        V/L at a pump's inlet as it starts.
    time : array
        Time since key-on, s.
    gauge_pressure : array
        Pressure in the rails above the atmosphere, Pa.
    gas_volume : array
        Volume of vapour, m3.
    pump_flow : array
        Flow of the pumps, m3/s.
    rail_temperature : array
        Temperature of the rail's fuel, K.
    set_pressure : float
        Set pressure, Pa.
    prime_time : float
        Duration of the prime, s.
    times : StartTimes
        Seconds from key-on.
    quickest, slowest : StartTimes
        Least and greatest of each over the band of how fast vapour collapses.
    remedies : tuple of RestartRemedy
        What each change would make of it, least cranking first; empty where not asked for.
    mass_error : float
        Error of the mass balance over the run, as a share of the room.
    """

    layout: str
    soak_time: float
    before_temperature: float
    before_pressure: float
    before_vapour: float
    pump_vapour: float
    time: PointArray
    gauge_pressure: PointArray
    gas_volume: PointArray
    pump_flow: PointArray
    rail_temperature: PointArray
    set_pressure: float
    prime_time: float
    times: StartTimes
    quickest: StartTimes
    slowest: StartTimes
    remedies: tuple[RestartRemedy, ...]
    mass_error: float

    @property
    def headline(self) -> str:
        """Return what the soak left, and when pressure, liquid and a steady idle are there."""
        left = shown(self.before_pressure, "pressure difference", digits=3)
        rail = shown(self.before_temperature, "temperature", digits=3)
        text = f"'{self.layout}', {self.soak_time / 60.0:.3g} min after the stop: rail at {rail}, {left} gauge and"
        text += f" {self.before_vapour * 1e6:.2g} mL of" if self.before_vapour > _TOLD else " no"
        text += " vapour left; "
        if not np.isfinite(self.times.liquid):
            return text + "a minute of cranking brings no liquid to the injectors"
        text += f"pressure {self.times.pressure:.2f} s after key-on, liquid {self.times.liquid:.2f} s"
        text += f" ({self.quickest.liquid:.2f} to {self.slowest.liquid:.2f})"
        if not np.isfinite(self.times.idle):
            return text + ", no steady idle within a minute"
        return text + f", steady idle {self.times.idle:.1f} s"

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.hot_restart_table(self, units)

    def remedy_table(self) -> pd.DataFrame:
        """Return one row per change with its seconds, the car as it is first."""
        return opener.restart_remedy_table(self)

    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the pressure after key-on, with the moments of pressure, liquid and steady idle.

        Parameters
        ----------
        ax : Axes, optional
            Axes of the user's own to draw into.
        """
        return opener.hot_restart_figure(self, ax)

    def to_xarray(self) -> xr.Dataset:
        """Return the result with an axis of time, in SI with units; needs xarray.

        Returns
        -------
        xarray.Dataset

        Raises
        ------
        InputError
            Where xarray is not installed.
        """
        return opener.dataset_over_time(self)


@system_or_car
@takes(
    {
        "soak_time": number("time", 60.0, 172_800.0, example="20 min", single=True),
        "prime_time": number("time", 0.1, 60.0, example="2 s", single=True),
        "voltage": VOLTAGE,
        "crank_voltage": VOLTAGE,
        "air_temperature": ONE_CONDITION["air_temperature"],
        "altitude": ONE_CONDITION["altitude"],
        "tank_temperature": ONE_CONDITION["tank_temperature"],
        "leak_flow": LEAK,
        "bleed_diameter": number("bore", 0.0, 0.01, example="0.6 mm", single=True),
        "peak_bay_rise": number("temperature difference", 0.0, 150.0, example="60 K", single=True),
    }
)
def hot_restart(
    system: System,
    *,
    soak_time: Quantity = 1200.0,
    prime_time: Quantity = PRIME_TIME,
    voltage: Quantity = None,
    crank_voltage: Quantity = None,
    air_temperature: Quantity = None,
    altitude: Quantity = None,
    tank_temperature: Quantity = None,
    leak_flow: Quantity = GOOD_LEAK,
    bleed_diameter: Quantity = 0.0,
    peak_bay_rise: Quantity = SOAK_PEAK,
    remedies: bool = False,
) -> HotRestart:
    """Stop a hot car at idle, let it soak, turn the key, and follow the pressure up to a steady idle.

    Parameters
    ----------
    system : System
        The car in its layout; or ``car, layout``.
    soak_time : float or str
        Time from the stop to key-on, s.
    prime_time : float or str
        Duration of the pump's run at key-on, after which the engine is cranked, s.
    voltage, crank_voltage : float or str, optional
        Supply voltage at key-on and while cranking, V; the car's own if left out.
    air_temperature, tank_temperature : float or str, optional
        Temperatures of the ambient air and of the tank, K; the car's own if left out.
    altitude : float or str, optional
        Altitude, m; the car's own if left out.
    leak_flow : float or str
        Leak through check valve and regulator together at 300 kPa, m3/s.
    bleed_diameter : float or str
        Diameter of an orifice from the rail to the return, m; 0 for none.
    peak_bay_rise : float or str
        Greatest rise of the bay's air above ambient after the stop, K.
    remedies : bool
        Whether the start is computed again with a check valve that does not leak, a longer prime, a bleed, a higher set
        pressure and a shield, each alone.

    Returns
    -------
    HotRestart

    Raises
    ------
    InputError
        For values that are not plausible, or a car that does not run before the stop.
    SolveError
        If the soak could not be integrated.

    Examples
    --------
    >>> import fuelsim as fs
    >>> start = hot_restart(fs.Car.named("finch"), "returnless_tank", leak_flow="20 mL/h")
    >>> start.times.pressure <= start.times.liquid <= start.times.idle
    True
    """
    given = _Given(
        {"air_temperature": air_temperature, "altitude": altitude, "tank_temperature": tank_temperature},
        float(soak_time),
        float(leak_flow),
        float(bleed_diameter),
        float(peak_bay_rise),
        Starting.of(
            system.car,
            prime_time=float(prime_time),
            voltage=_single(voltage),
            crank_voltage=_single(crank_voltage),
            bleed_area=bleed_area(float(bleed_diameter)),
        ),
    )
    own = _started(system, given, FILMS)
    rungs: list[RestartRemedy] = []
    if remedies:
        rungs = [RestartRemedy(name, _started(*rung, (FILMS[1],)).times[0]) for name, rung in _ladder(system, given)]
        rungs.sort(key=lambda rung: (rung.times.cranked, rung.times.liquid))
    filled = own.filled

    def middle(values: FloatArray) -> PointArray:
        return np.asarray(values[:, 1])

    return HotRestart(
        layout=system.layout,
        soak_time=given.soak_time,
        before_temperature=float(filled.temperature[0, 1]),
        before_pressure=float(filled.gauge[0, 1]),
        before_vapour=float(filled.gas[0, 1]),
        pump_vapour=own.pump_vapour,
        time=filled.time,
        gauge_pressure=middle(filled.gauge),
        gas_volume=middle(filled.gas),
        pump_flow=middle(filled.flow),
        rail_temperature=middle(filled.temperature),
        set_pressure=own.set_pressure,
        prime_time=given.starting.prime_time,
        times=own.times[1],
        quickest=StartTimes(*np.min(own.times, axis=0).tolist()),
        slowest=StartTimes(*np.max(own.times, axis=0).tolist()),
        remedies=tuple(rungs),
        mass_error=filled.mass_error,
    )


@dataclass(frozen=True)
class _Given:
    """What was asked for: conditions, times, s, leak, m3/s, bleed, m, and how the start is made."""

    conditions: Mapping[str, Quantity]
    soak_time: float
    leak: float
    bleed: float
    peak_bay_rise: float
    starting: Starting


class _Started(NamedTuple):
    """A start: over time, seconds for each film, V/L at the pump, and set pressure, Pa."""

    filled: FilledRail
    times: tuple[StartTimes, ...]
    pump_vapour: float
    set_pressure: float


def _started(system: System, given: _Given, films: tuple[float, ...]) -> _Started:
    """Soak and start."""
    fuel = ShutInFuel.after(system, idle_before_stop(system, **given.conditions), given.peak_bay_rise)
    leaks = Leaks(check_valve=given.leak).with_bleed(given.bleed)
    time = np.linspace(0.0, given.soak_time, 3)
    with interruption_noted() as interruption:
        course = shut_in_course(fuel, leaks, time, interruption)
        if interruption.came:
            raise KeyboardInterrupt
    state = fuel.state(time, course.temperatures, course.net_lost)
    last = type(state)(*(np.asarray(values)[..., -1:] for values in state))
    starting = given.starting
    after = starting.prime_time + CRANK_TIME + _SHOWN_AFTER
    start = restarted(fuel, time[-1:], course.temperatures[:, -1:], last, starting, films, not_before=after)
    held = start.filling.set_pressure
    return _Started(start.filled, _times(start.filled, held, starting.prime_time), float(start.pump_vapour[0]), held)


def _times(filled: FilledRail, held: float, prime_time: float) -> tuple[StartTimes, ...]:
    """Return the seconds of each point."""
    pressure, liquid = filled.seconds_to_pressure(held), filled.seconds_to_liquid(held)
    fires = np.maximum(liquid, prime_time + CRANK_TIME)
    # Where nothing holds the pressure below that of the pump at rest, an idle is steady at what it comes to.
    steady = np.minimum(held, filled.gauge[-1])
    unsteady = (filled.gas_share >= NO_GAS) | (filled.gauge < (1.0 - STEADY_FRACTION) * steady)
    # The last time at which it was not steady, and one step.
    settled = [_after_last(filled.time, unsteady[:, point]) for point in range(unsteady.shape[1])]
    idle = np.maximum(fires, settled)
    return tuple(
        StartTimes(float(p), float(q), float(i), float(f) - prime_time)
        for p, q, i, f in zip(pressure, liquid, idle, fires, strict=True)
    )


def _after_last(time: PointArray, unsteady: BoolArray) -> float:
    """Return the time after the last at which something is so; infinite where it is so at the end."""
    last = np.flatnonzero(unsteady)
    if not last.size:
        return 0.0
    return float(time[last[-1] + 1]) if last[-1] + 1 < len(time) else np.inf


def _ladder(system: System, given: _Given) -> list[tuple[str, tuple[System, _Given]]]:
    """Return each remedy alone: its name, and the car and start with it."""
    car, plumbing = system.car, system.plumbing
    first = plumbing.holders[0] if plumbing.holders else None
    rails = rails_of(system)
    shield = {
        f"{rail.table}.{key}": SHIELD_SHARE * float(np.max(getattr(rails[rail.name], key)))
        for rail in plumbing.planned_rails
        for key in ("air_conductance", "engine_conductance")
    }
    rungs = [
        ("as it is", (system, given)),
        ("check valve that does not leak", (system, _replaced(given, leak=0.0))),
        (f"prime of {LONGER_PRIME:g} s", (system, _replaced(given, prime_time=LONGER_PRIME))),
        (f"bleed of {LADDER_BLEED * 1e3:g} mm at the rail", (system, _replaced(given, bleed=LADDER_BLEED))),
        ("shield over the rail", (car.with_values(shield).system(system.layout), given)),
    ]
    if first is not None:
        higher = {f"{first.table}.set_pressure": float(np.max(first.set_pressure)) + LADDER_PRESSURE}
        rise = shown(LADDER_PRESSURE, "pressure difference", digits=3)
        rungs.append((f"set pressure {rise} higher", (car.with_values(higher).system(system.layout), given)))
    return rungs


def _replaced(
    given: _Given, *, leak: float | None = None, bleed: float | None = None, prime_time: float | None = None
) -> _Given:
    starting = given.starting
    if bleed is not None:
        starting = replace(starting, bleed_area=bleed_area(bleed))
    if prime_time is not None:
        starting = replace(starting, prime_time=prime_time)
    return replace(
        given,
        leak=given.leak if leak is None else leak,
        bleed=given.bleed if bleed is None else bleed,
        starting=starting,
    )


def _single(voltage: Quantity) -> float | None:
    return None if voltage is None else float(np.max(voltage))
