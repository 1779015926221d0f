"""Hot soak: the engine stops, the bay heats up, the rail boils or does not, and the key may be turned at any moment.

What is shut in between check valve and regulator is modelled in `fuelsim.transients.shut_in_fuel`, the restart in
`fuelsim.transients.restart`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.interruption import WHOLE, Completion, Interruptible, interruption_noted
from fuelsim.network.state import ByName
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.transients.restart import Restart, restart_times
from fuelsim.transients.shut_in_course import GOOD_LEAK, Leaks, ShutInCourse, idle_before_stop, shut_in_course
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.world import SOAK_PEAK
from fuelsim.typing import Given, PointArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["RailSoak", "Restart", "Soak", "hot_soak"]


@dataclass(frozen=True)
class RailSoak(Shown):
    """One rail during a soak; every array is (times,).

    Attributes
    ----------
    volume : float
        Volume of fuel in the full rail, m3.
    temperature : array
        Temperature of the rail, K.
    pressure_needed : array
        Gauge pressure below which its fuel boils, Pa.
    vapour_volume : array
        Volume of vapour in it, m3.
    """

    volume: float
    temperature: PointArray
    pressure_needed: PointArray
    vapour_volume: PointArray

    @property
    def headline(self) -> str:
        """Return how many times there are."""
        return f"{np.size(self.temperature)} times"


@dataclass(frozen=True)
class Soak(Interruptible, Shown):
    """A hot soak; every array is (times,).

    Attributes
    ----------
    layout : str
        Name of the layout.
    time : array
        Time since the engine stopped, s.
    bay_temperature, rail_temperature : array
        Temperatures of the air in the bay and of the hottest rail, K.
    rail_gauge_pressure : array
        Pressure of the rails, which stand under one pressure, above the atmosphere, Pa.
    pressure_needed : array
        Gauge pressure below which the fuel of the hottest rail boils, Pa.
    vapour_volume : array
        Volume of vapour between check valve and regulator, m3.
    leaked : array
        Volume of liquid lost through check valve, regulator and bleed since the stop, m3.
    shut_in_volume : float
        Volume of fuel between check valve and regulator, m3.
    restart : Restart
        What a restart takes at each time.
    by_rail : mapping of rail to RailSoak
        Temperature and vapour of each rail.
    completion : Completion
        How many minutes were computed before the end or before Ctrl-C.
    """

    layout: str
    time: PointArray
    bay_temperature: PointArray
    rail_temperature: PointArray
    rail_gauge_pressure: PointArray
    pressure_needed: PointArray
    vapour_volume: PointArray
    leaked: PointArray
    shut_in_volume: float
    restart: Restart
    by_rail: ByName[RailSoak]
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return how long it lasts, and how hot the rail becomes."""
        hottest = shown(float(np.max(self.rail_temperature)), "temperature", digits=3)
        return f"'{self.layout}', {shown(float(self.time[-1]), 'time', digits=2)}: rail up to {hottest}"

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

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.soak_table(self, units)

    @takes()
    def plot(self, *others: Soak) -> Figure:
        """Draw rail temperature, pressure and restart time against soak time, this soak beside others.

        Parameters
        ----------
        *others : Soak
            Further soaks, such as those of other layouts, a line each.

        Returns
        -------
        matplotlib.figure.Figure
        """
        return opener.soak_figure([self, *others])


@system_or_car
@takes(
    {
        "duration": number("time", 60.0, 172_800.0, example="2 h", single=True),
        "air_temperature": ONE_CONDITION["air_temperature"],
        "altitude": ONE_CONDITION["altitude"],
        "tank_temperature": ONE_CONDITION["tank_temperature"],
        "leak_flow": number("volume flow", 0.0, 1e-5, example="0.35 mL/h", single=True),
        "bleed_diameter": number("bore", 0.0, 0.01, example="0.6 mm", single=True),
        "peak_bay_rise": number("temperature difference", 0.0, 150.0, example="60 K", single=True),
        "output_step": number("time", 1.0, 3600.0, example="60 s", single=True),
    }
)
def hot_soak(
    car: Car,
    layout: str,
    *,
    duration: Given = "2 h",
    air_temperature: Given | None = None,
    altitude: Given | None = None,
    tank_temperature: Given | None = None,
    leak_flow: Given = GOOD_LEAK,
    bleed_diameter: Given = 0.0,
    peak_bay_rise: Given = SOAK_PEAK,
    output_step: Given = 60.0,
) -> Soak:
    """Stop a hot car at idle, let it soak, and compute at every moment what a restart would take.

    Parameters
    ----------
    car : Car
        Its surroundings say how hot the bay was before the stop.
    layout : str
        Name of the layout.
    duration : float or str
        Duration of the soak, s.
    air_temperature, tank_temperature : float or str, optional
        Temperatures of the ambient air and of the tank, K; the car's own if left out.
    altitude : float or str, optional
        Altitude, m; the car's own if left out.
    leak_flow : float or str
        Leak through check valve and regulator together at 300 kPa, proportional to pressure, m3/s.
    bleed_diameter : float or str
        Diameter of an orifice from the rail to the return that lets vapour out and pressure down, m; 0 for none.
    peak_bay_rise : float or str
        Greatest rise of the bay's air above ambient after the stop, K; see `SOAK_PEAK`.
    output_step : float or str
        Time between the states shown, s.

    Returns
    -------
    Soak

    Raises
    ------
    InputError
        For a layout the car has no parts for, or a car that does not run before the stop.
    SolveError
        If the integration fails.
    KeyboardInterrupt
        After Ctrl-C before the first states; later it ends the soak with what is finished.

    Examples
    --------
    >>> import fuelsim as fs
    >>> soak = hot_soak(fs.Car.named("finch"), "returnless_tank", duration="30 min")
    >>> bool(soak.rail_temperature[-1] > soak.rail_temperature[0])
    True
    """
    system = car.system(layout)
    run = idle_before_stop(system, air_temperature, altitude, tank_temperature)
    peak = float(units.convert(peak_bay_rise, "temperature difference"))
    fuel = ShutInFuel.after(system, run, peak)
    seconds, step = (float(units.convert(value, "time")) for value in (duration, output_step))
    time = np.linspace(0.0, seconds, max(int(np.ceil(seconds / step)), 1) + 1)
    leaks = Leaks(check_valve=float(units.convert(leak_flow, "volume flow")))
    leaks = leaks.with_bleed(float(units.convert(bleed_diameter, "bore")))
    with interruption_noted() as interruption:
        course = shut_in_course(fuel, leaks, time, interruption)
        finished = time[: course.temperatures.shape[1]]
        if len(finished) < 2:
            raise KeyboardInterrupt
        soak = _collected(layout, fuel, finished, course, system.plumbing.also_named)
    if not interruption.came:
        return soak
    return replace(soak, completion=Completion(float(finished[-1]) / 60.0, seconds / 60.0, "min", interrupted=True))


def _collected(
    layout: str,
    fuel: ShutInFuel,
    time: PointArray,
    course: ShutInCourse,
    also_named: Mapping[str, str],
) -> Soak:
    """Return the soak from temperatures and masses over time."""
    temperatures = course.temperatures
    state = fuel.state(time, temperatures, course.net_lost)
    hottest = temperatures.max(axis=0)
    return Soak(
        layout=layout,
        time=time,
        bay_temperature=np.asarray(fuel.bay_temperature(time)),
        rail_temperature=hottest,
        rail_gauge_pressure=state.pressure - fuel.atmospheric_pressure,
        pressure_needed=fuel.tables.bubble_pressure(hottest) - fuel.atmospheric_pressure,
        vapour_volume=state.vapour_volume,
        leaked=(course.net_lost + course.drawn_in) / fuel.mean_density(0.0, fuel.start_temperatures),
        shut_in_volume=fuel.volume,
        restart=restart_times(fuel, time, temperatures, state),
        by_rail=ByName(
            "rail",
            list(fuel.rails),
            [
                RailSoak(float(volume), own, fuel.tables.bubble_pressure(own) - fuel.atmospheric_pressure, vapour)
                for volume, own, vapour in zip(fuel.rail_volumes, temperatures, state.vapour_in_rail, strict=True)
            ].__getitem__,
            also_named,
        ),
    )
