"""Leak-down: the pressure left in rail and lines against the time since the pump stopped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from fuelsim import opener
from fuelsim.arguments import Quantity, number, takes
from fuelsim.errors import InputError
from fuelsim.interruption import interruption_noted
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.pump_off import standing_groups
from fuelsim.system.run import System
from fuelsim.transients.service_limits import SERVICE_TIME, ServiceLimit, service_limits
from fuelsim.transients.shut_in_course import GOOD_LEAK, RESEAT, Leaks, WaysOut, idle_before_stop, shut_in_course
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.world import SOAK_PEAK
from fuelsim.typing import FloatArray, PlotAxes, PointArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["LEAK", "LeakDown", "leak_down", "way_back_open"]

LEAK = number("volume flow", 0.0, 1e-5, example="0.35 mL/h", single=True)
"""A leak past a seat, at 300 kPa."""
POINTS = 241
"""Times of a leak-down, beside that of the service limit."""


@dataclass(frozen=True)
class LeakDown(Shown):
    """The pressure of the shut-in fuel after the pump has stopped; every array is (times,).

    Attributes
    ----------
    layout : str
        Name of the layout.
    time : array
        Time since the stop, s.
    gauge_pressure : array
        Pressure in the rails above the atmosphere, Pa.
    pressure_before : float
        The same with the pump running at idle, Pa.
    rail_temperature : array
        Temperature of the hottest rail, K.
    pressure_needed : array
        Gauge pressure below which its fuel boils, Pa.
    lowest_pressure : float
        Gauge pressure at which the check valve lets fuel in from the tank: tank pressure less the cracking pressure and
        the head up to the rail, Pa; minus infinity with a dry or blocked inlet.
    vapour_volume : array
        Volume of vapour, m3.
    lost : WaysOut
        Mass of fuel that left by each way, kg, (times,) each.
    drawn_in : array
        Mass of fuel that the check valve let in, kg.
    shut_in_volume : float
        Volume of fuel between check valve and regulator, m3.
    elastic_volume : float
        Volume by which fuel, hoses, rails and dampers give way per pressure, m3/Pa.
    pressure_per_kelvin : float
        Rise of the pressure for each kelvin that all of it warms, without leak or vapour, Pa/K.
    limits : tuple of ServiceLimit
        Published service limits that apply.
    check_valve_assumed : bool
        Whether the plumbing as described has no valve that holds the pressure, and one is assumed.
    mass_error : float
        Error of the mass balance over the run, as a share of the fuel shut in.
    """

    layout: str
    time: PointArray
    gauge_pressure: PointArray
    pressure_before: float
    rail_temperature: PointArray
    pressure_needed: PointArray
    lowest_pressure: float
    vapour_volume: PointArray
    lost: WaysOut
    drawn_in: PointArray
    shut_in_volume: float
    elastic_volume: float
    pressure_per_kelvin: float
    limits: tuple[ServiceLimit, ...]
    check_valve_assumed: bool
    mass_error: float

    @property
    def headline(self) -> str:
        """Return how far the pressure falls, by when, and whether service limits are met."""
        before, after, end = (
            shown(float(p), "pressure difference", digits=3)
            for p in (self.pressure_before, self.gauge_pressure[0], self.gauge_pressure[-1])
        )
        text = f"'{self.layout}': {before} gauge with the pump running, {after} as it stops, {end} after"
        text += f" {self.time[-1] / 60.0:.4g} min"
        missed = [limit.name for limit in self.limits if not limit.met]
        if self.limits:
            text += f"; service limits {'missed: ' + ', '.join(missed) if missed else 'met'}"
        if self.check_valve_assumed:
            text += "; the car names no check valve, a sound one is assumed"
        return text

    @takes({"time": number("time", 0.0, 1e6, example="5 min")})
    def pressure_at(self, time: Quantity) -> FloatArray:
        """Return the gauge pressure at some times, between those computed along straight lines.

        Parameters
        ----------
        time : float, str or array
            Time since the stop, s.

        Returns
        -------
        array
            Pa above the atmosphere.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.leak_down(fs.Car.named("plover"), "no_pot", duration="20 min")
        >>> bool(result.pressure_at("10 min") < result.pressure_at("0 s"))
        True
        """
        return np.asarray(np.interp(time, self.time, self.gauge_pressure), dtype=float)

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.leak_down_table(self, units)

    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the pressure against time, with the pressure at which the fuel boils.

        Parameters
        ----------
        ax : Axes, optional
            Axes of the user's own to draw into.
        """
        return opener.leak_down_figure([self], ax)

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


def way_back_open(plumbing: Plumbing) -> bool:
    """Whether nothing keeps the fuel of a rail from running back into tank or pot once the pumps stop.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> import fuelsim as fs
    >>> cars = (("finch", "return"), ("plover", "pot"))
    >>> [way_back_open(fs.Car.named(car).system(layout).plumbing) for car, layout in cars]
    [True, False]
    """
    groups = standing_groups(plumbing)
    return any(rail in group and group & plumbing.vessels for rail in plumbing.rails for group in groups)


@system_or_car
@takes(
    {
        "duration": number("time", 60.0, 604_800.0, example="1 h", single=True),
        "temperature": ONE_CONDITION["air_temperature"],
        "altitude": ONE_CONDITION["altitude"],
        "check_valve_leak": LEAK,
        "regulator_leak": LEAK,
        "injector_leak": LEAK,
        "reseat_step": number("pressure difference", 0.0, 1e6, example="28 kPa", single=True),
        "peak_bay_rise": number("temperature difference", 0.0, 150.0, example="60 K", single=True),
    }
)
def leak_down(
    system: System,
    *,
    duration: Quantity = 3600.0,
    hot: bool = False,
    temperature: Quantity = None,
    altitude: Quantity = None,
    check_valve_leak: Quantity = GOOD_LEAK,
    regulator_leak: Quantity = 0.0,
    injector_leak: Quantity = 0.0,
    reseat_step: Quantity = RESEAT,
    clamped: Literal["", "feed", "return", "both"] = "",
    inlet_dry: bool = False,
    peak_bay_rise: Quantity = SOAK_PEAK,
) -> LeakDown:
    """Stop the pump and follow the pressure that is left in rail and lines.

    Valves lose `reseat_step` at once as they shut. Then leaks, cooling and warming act against the give of fuel, hoses,
    rails and dampers; where fuel boils, vapour holds its bubble pressure; and where the pressure falls below that of
    the tank, the check valve lets fuel in.

    Parameters
    ----------
    system : System
        The car in its layout; or ``car, layout``.
    duration : float or str
        Time that is followed, s.
    hot : bool
        Whether the engine is hot: the rail follows bay and metal as in `hot_soak`. A cold car keeps one temperature.
    temperature : float or str, optional
        Temperature of the air, K, and of all fuel in a cold car; the car's own air if left out.
    altitude : float or str, optional
        Altitude, m; the car's own if left out.
    check_valve_leak, regulator_leak, injector_leak : float or str
        Leak past each seat at 300 kPa, such as ``"0.5 mL/min"``, in proportion to the pressure, m3/s; all injectors
        together. Left out, 0.42 mL/h past the check valve: with 0.2 L behind a rubber hose it is that of a good car
        [service_manuals_d].
    reseat_step : float or str
        Pressure that is lost at once as valves shut, Pa; left out, 28 kPa [service_manuals_d].
    clamped : str
        Hose that is clamped on a cold car with the pump off: ``"feed"`` behind the check valve, ``"return"`` behind the
        regulator, or ``"both"``. What leaked there leaks no more.
    inlet_dry : bool
        Whether no liquid stands behind the check valve, or what stands there cannot come in.
    peak_bay_rise : float or str
        Greatest rise of the air in a hot car's bay above ambient after the stop, K.

    Returns
    -------
    LeakDown

    Raises
    ------
    InputError
        For values that are not plausible, a car that does not run before the stop, or hoses clamped on a hot car: shut
        in without a way out, warming fuel would burst them.
    SolveError
        If the integration fails.

    Examples
    --------
    Warming fuel in steel gains about 1000 kPa for each kelvin, in rubber hose a fraction of it:

    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"rail.elastic_volume": 0.0, "feed.length": "40 m"})
    >>> cars = [car.with_values({"feed.material": material}) for material in ("steel", "rubber")]
    >>> [800e3 < fs.leak_down(car, "returnless_tank").pressure_per_kelvin < 1200e3 for car in cars]
    [True, False]
    """
    if clamped and hot:
        raise InputError("clamped hoses on a hot car", given=clamped, accepted="clamped with hot=False", key="clamped")
    system_temperature = None if hot else float(_first(temperature, system.car.surroundings.air_temperature))
    run = idle_before_stop(system, system_temperature if not hot else temperature, altitude, system_temperature)
    feed, back = clamped in ("feed", "both"), clamped in ("return", "both")
    fuel = ShutInFuel.after(
        system,
        run,
        float(peak_bay_rise),
        constant_temperature=system_temperature,
        inlet_dry=inlet_dry or feed,
    )
    leaks = Leaks(float(check_valve_leak), float(regulator_leak), float(injector_leak)).clamped(feed=feed, back=back)
    time = np.unique([*np.linspace(0.0, float(duration), POINTS), min(SERVICE_TIME, float(duration))])
    with interruption_noted() as interruption:
        course = shut_in_course(fuel, leaks, time, interruption, reseat_step=float(reseat_step))
        if interruption.came:
            raise KeyboardInterrupt
    state = fuel.state(time, course.temperatures, course.net_lost)
    hottest = course.temperatures.max(axis=0)
    outside = fuel.atmospheric_pressure
    gauge = np.asarray(state.pressure) - outside
    limits: tuple[ServiceLimit, ...] = ()
    if time[-1] >= SERVICE_TIME:
        limits = service_limits(fuel.set_pressure, fuel.start_pressure, float(np.interp(SERVICE_TIME, time, gauge)))
    mass = fuel.mass(time, course.temperatures, state)
    return LeakDown(
        layout=system.layout,
        time=time,
        gauge_pressure=gauge,
        pressure_before=fuel.start_pressure,
        rail_temperature=hottest,
        pressure_needed=np.asarray(fuel.tables.bubble_pressure(hottest)) - outside,
        lowest_pressure=fuel.opens_inwards_at - outside if fuel.opens_inwards_at else -np.inf,
        vapour_volume=np.asarray(state.vapour_volume),
        lost=course.lost,
        drawn_in=course.drawn_in,
        shut_in_volume=fuel.volume,
        elastic_volume=fuel.elastic_volume,
        pressure_per_kelvin=fuel.pressure_per_kelvin(float(hottest[0])),
        limits=limits,
        check_valve_assumed=way_back_open(system.plumbing),
        mass_error=float(np.max(np.abs(mass + course.net_lost - fuel.start_mass))) / fuel.start_mass,
    )


def _first(given: Quantity, own: Quantity) -> Quantity:
    return own if given is None else given
