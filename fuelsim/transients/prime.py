"""Prime: what the pump does in the seconds after key-on, and what is left of it for the engine to start on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import VOLTAGE, Quantity, number, takes
from fuelsim.parts.supply import Supply
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.transients.rail_filling import FILMS, FilledRail, Filling, Inside, Phase, fill
from fuelsim.transients.shut_in_course import RESEAT, bleed_area, idle_before_stop
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.start_of_pumps import (
    PRIME_TIME,
    StoppedPump,
    drawn_fuel,
    filling_of,
    pumps_at_work,
    stopped_pumps,
)
from fuelsim.typing import FloatArray, PointArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["Prime", "PrimeShare", "arrival", "prime"]

_TIME = number("time", 0.0, 60.0, example="2 s", single=True)
_LEFT_ON = 60.0
"""Time for which the pump is left on to explain the time to pressure, s (numerical)."""
_POINTS = 6
"""Whole model with vapour that collapses in the middle, slowly and fast; without spin-up; without spin-up and circuit
at bench voltage; with a constant flow."""


class PrimeShare(NamedTuple):
    """One part of the time to pressure.

    Attributes
    ----------
    name : str
        What takes the time, or saves it.
    seconds : float
        s; negative where it saves time.
    """

    name: str
    seconds: float


@dataclass(frozen=True)
class Prime(Shown):
    """Pressure and flow after key-on; every array is (times,).

    Attributes
    ----------
    layout : str
        Name of the layout.
    lines : str
        What stood in the lines.
    time : array
        Time since key-on, s.
    gauge_pressure : array
        Pressure in the rails above the atmosphere, Pa.
    gas_volume : array
        Volume of air and vapour, m3.
    pump_flow : array
        Flow of the pumps, m3/s.
    pumped : array
        Volume that the pumps have moved since key-on, m3.
    phase : array of str
        ``"prime"``, ``"pause"`` or ``"crank"``.
    set_pressure : float
        Set pressure, Pa.
    volume : float
        Room of rails and lines under one pressure, m3.
    seconds_to_pressure : float
        Time until 95 % of the set pressure is there, s; infinite where it never is.
    seconds_to_liquid : float
        Time until the injectors have liquid at that pressure, s.
    liquid_band : tuple of float
        Least and greatest of it over the band of how fast vapour collapses, s.
    moved_by_prime : float
        Volume that the pumps have moved by the end of the prime, m3.
    left_by_prime : float
        Gauge pressure that the prime leaves once valves have shut, Pa.
    rated_flow : float
        Flow of the pumps at the set pressure and bench voltage, m3/s.
    shares : tuple of PrimeShare
        What the time to pressure would be made of with the pump left on; empty where it would not come within a minute.
    mass_error : float
        Error of the mass balance over the run, as a share of the room.
    """

    layout: str
    lines: str
    time: PointArray
    gauge_pressure: PointArray
    gas_volume: PointArray
    pump_flow: PointArray
    pumped: PointArray
    phase: PointArray
    set_pressure: float
    volume: float
    seconds_to_pressure: float
    seconds_to_liquid: float
    liquid_band: tuple[float, float]
    moved_by_prime: float
    left_by_prime: float
    rated_flow: float
    shares: tuple[PrimeShare, ...]
    mass_error: float

    @property
    def headline(self) -> str:
        """Return when the pressure is there, what the prime leaves, and what the time is made of."""
        lines = self.lines.replace("_", " ")
        left = shown(self.left_by_prime, "pressure difference", digits=3)
        moved = f"{self.moved_by_prime * 1e6:.3g} mL"
        text = f"'{self.layout}', lines {lines}: {arrival('set pressure', self.seconds_to_pressure, self.time)}"
        text += f", {arrival('liquid at the injectors', self.seconds_to_liquid, self.time)}; "
        text += f"the prime moves {moved} and leaves {left} gauge"
        parts = [f"{share.name} {round(share.seconds, 2) + 0.0:+.2f} s" for share in self.shares]
        return text + (f"; with the pump left on: {', '.join(parts)}" if parts else "")

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.prime_table(self, units)

    def plot(self) -> Figure:
        """Draw pressure, and gas with pump flow below, against the time since key-on."""
        return opener.prime_figure(self)

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


def arrival(what: str, seconds: float, time: PointArray) -> str:
    """Return after how many seconds something is there, or that it is not.

    Parameters
    ----------
    what : str
        What is awaited.
    seconds : float
        Time since key-on, s; NaN or infinite where it does not come.
    time : array (times,)
        Times looked at, s.

    Returns
    -------
    str

    Examples
    --------
    >>> arrival("set pressure", 0.314, np.array([0.0, 6.0])), arrival("set pressure", np.inf, np.array([0.0, 6.0]))
    ('set pressure after 0.31 s', 'set pressure not within 6 s')
    """
    return f"{what} after {seconds:.2f} s" if np.isfinite(seconds) else f"{what} not within {time[-1]:.0f} s"


@system_or_car
@takes(
    {
        "duration": _TIME,
        "pause": _TIME,
        "crank_time": _TIME,
        "voltage": VOLTAGE,
        "crank_voltage": VOLTAGE,
        "gauge_pressure": number("pressure difference", 0.0, 2e6, example="100 kPa", single=True),
        "cooled_by": number("temperature difference", 0.0, 120.0, example="50 K", single=True),
        "rail_temperature": number("temperature", 223.15, 423.15, example="85 degC", single=True),
        "temperature": ONE_CONDITION["air_temperature"],
        "altitude": ONE_CONDITION["altitude"],
        "constant_flow": number("volume flow", 1e-7, 1e-2, example="120 L/h", single=True),
        "bleed_diameter": number("bore", 0.0, 0.01, example="0.5 mm", single=True),
        "reseat_step": number("pressure difference", 0.0, 1e6, example="28 kPa", single=True),
    }
)
def prime(
    system: System,
    *,
    lines: Literal["full", "empty", "sealed_cold", "vapour"] = "full",
    duration: Quantity = PRIME_TIME,
    voltage: Quantity = None,
    pause: Quantity = 1.0,
    crank_time: Quantity = 3.0,
    crank_voltage: Quantity = None,
    gauge_pressure: Quantity = 0.0,
    cooled_by: Quantity = 50.0,
    rail_temperature: Quantity = 363.15,
    temperature: Quantity = None,
    altitude: Quantity = None,
    constant_flow: Quantity = None,
    bleed_diameter: Quantity = 0.0,
    reseat_step: Quantity = RESEAT,
) -> Prime:
    """Switch the pump on at key-on, off after the prime, and on again to crank.

    Parameters
    ----------
    system : System
        The car in its layout; or ``car, layout``.
    lines : str
        What stands in lines and rails: ``"full"`` of liquid under `gauge_pressure`; ``"empty"``, air;
        ``"sealed_cold"``, liquid that was shut in hot, has cooled and left a void; ``"vapour"``, rails of
        `rail_temperature` full of it.
    duration : float or str
        Duration of the prime, s: 1.5 to 2 [service_manuals_e].
    voltage, crank_voltage : float or str, optional
        Supply voltage at key-on and while cranking, V; the car's own if left out.
    pause, crank_time : float or str
        Time between prime and cranking, and of cranking, s.
    gauge_pressure : float or str
        Pressure left in full lines, Pa above the atmosphere.
    cooled_by : float or str
        Kelvins by which fuel that was sealed in has cooled, K.
    rail_temperature : float or str
        Temperature of rails full of vapour, K.
    temperature : float or str, optional
        Temperature of fuel and air, K; the car's own air if left out.
    altitude : float or str, optional
        Altitude, m; the car's own if left out.
    constant_flow : float or str, optional
        A source of constant flow in place of the pumps, without spin-up, m3/s.
    bleed_diameter : float or str
        Diameter of an orifice that lets air and vapour out of the rail, m; 0 for none.
    reseat_step : float or str
        Pressure that is lost as the pump stops and valves shut, Pa.

    Returns
    -------
    Prime

    Raises
    ------
    InputError
        For values that are not plausible, or a car that does not idle.

    Notes
    -----
    Room, give and gas under one pressure (`rail_filling`); motors by their back-EMF (`pump_start`). Air is compressed
    at its temperature and leaves through a regulator behind the rail, a bleed, or the injectors.

    Examples
    --------
    1.5 s at a constant 120 L/h move 50 mL:

    >>> import fuelsim as fs
    >>> result = prime(fs.Car.named("finch"), "return", duration="1.5 s", constant_flow="120 L/h")
    >>> round(result.moved_by_prime * 1e6, 1)
    50.0
    """
    own = system.car.surroundings.air_temperature if temperature is None else temperature
    cold = float(own)
    run = idle_before_stop(system, cold, altitude, cold)
    fuel = ShutInFuel.after(system, run, 0.0, constant_temperature=cold)
    pumps = stopped_pumps(fuel)
    drawn = [drawn_fuel(fuel, pump, np.zeros(1)) for pump in pumps]
    film = np.array([FILMS[1], FILMS[0], FILMS[2], *(FILMS[1] for _ in range(_POINTS - 3))])
    bleed = bleed_area(float(bleed_diameter))
    filling = filling_of(fuel, cold, film, bleed_area=bleed, reseat_step=float(reseat_step))
    bench = max(pump.link.part.bench_voltage for pump in pumps)
    supply = system.car.supply or Supply()
    at_key_on = float(np.max(supply.key_on_voltage if voltage is None else voltage))
    cranking = float(np.max(supply.cranking_voltage if crank_voltage is None else crank_voltage))
    rated = sum(_rated_flow(pump, fuel.set_pressure) for pump in pumps)
    source = np.full(_POINTS, np.nan)
    source[-1] = rated
    if constant_flow is not None:
        source[:] = rated = float(constant_flow)
    at_work = pumps_at_work(
        pumps,
        drawn,
        _POINTS,
        circuit_share=np.array([1.0, 1.0, 1.0, 1.0, 0.0, 1.0]),
        spins_up=np.array([True, True, True, False, False, False]),
        constant_flow=source,
    )

    def supplied(volts: float) -> PointArray:
        return np.array([volts, volts, volts, volts, bench, volts])

    demand = float(run.burnt_flow)
    phases = [
        Phase(float(duration), supplied(at_key_on), 0.0, cranking=False),
        Phase(float(pause), np.zeros(_POINTS), 0.0, cranking=False),
        Phase(float(crank_time), supplied(cranking), demand, cranking=True),
    ]
    inside = _inside(filling, lines, cold, float(gauge_pressure), float(cooled_by), float(rail_temperature))
    filled = fill(filling, at_work, inside, phases)
    shares: tuple[PrimeShare, ...] = ()
    if constant_flow is None:
        left_on = Phase(_LEFT_ON, phases[0].voltage, 0.0, cranking=False)
        shares = _explained(fill(filling, at_work, inside, [left_on], until_pressure=True), filling, rated)
    return _result(system.layout, lines, filling, filled, float(duration), rated, shares)


def _explained(filled: FilledRail, filling: Filling, rated: float) -> tuple[PrimeShare, ...]:
    """Return what the time to pressure is made of with the pump left on; nothing where it does not come."""
    seconds = filled.seconds_to_pressure(filling.set_pressure)
    whole, still, bench, constant = (float(seconds[point]) for point in (0, 3, 4, 5))
    if not np.all(np.isfinite([whole, still, bench, constant])):
        return ()
    return (
        PrimeShare(f"a constant {shown(rated, 'volume flow', digits=3)}", constant),
        PrimeShare("more flow below the set pressure", bench - constant),
        PrimeShare("volts and wire", still - bench),
        PrimeShare("spin-up", whole - still),
    )


def _rated_flow(pump: StoppedPump, gauge: float) -> float:
    """Return the flow at bench voltage or greatest speed against a gauge pressure of the rail, Pa, m3/s."""
    start = pump.start
    drive = float(start.drive[-1]) if start.by_speed else pump.link.part.bench_voltage
    return float(start.delivered(np.array([drive]), np.array([gauge]))[0][0])


def _inside(filling: Filling, lines: str, cold: float, gauge: float, cooled_by: float, hot: float) -> Inside:
    """Return what stands in lines and rails at key-on."""

    def held(gauge: float, air: float, vapour: float, temperature: float) -> Inside:
        return filling.of_volumes(*(np.full(_POINTS, value) for value in (gauge, air, vapour, temperature)))

    bubble = float(filling.tables.bubble_pressure(cold)) - filling.atmospheric_pressure
    if lines == "empty":
        return held(0.0, filling.volume, 0.0, cold)
    if lines == "sealed_cold":
        density = filling.tables.density
        void = filling.volume * (1.0 - float(density(cold + cooled_by)) / float(density(cold)))
        return held(bubble, 0.0, void, cold)
    if lines == "vapour":
        bubble = float(filling.tables.bubble_pressure(hot)) - filling.atmospheric_pressure
        return held(bubble, 0.0, filling.rail_volume, hot)
    return held(gauge, 0.0, 0.0, cold)


def _result(
    layout: str,
    lines: str,
    filling: Filling,
    filled: FilledRail,
    duration: float,
    rated: float,
    shares: tuple[PrimeShare, ...],
) -> Prime:
    """Return the result of the first point, with the band that the next two give."""
    pressure = filled.seconds_to_pressure(filling.set_pressure)
    liquid = filled.seconds_to_liquid(filling.set_pressure)
    primed = int(np.searchsorted(filled.time, duration + 1e-9)) - 1
    settled = int(np.flatnonzero(filled.phase <= 1)[-1])
    names = np.array(["prime", "pause", "crank"])
    return Prime(
        layout=layout,
        lines=lines,
        time=filled.time,
        gauge_pressure=_first(filled.gauge),
        gas_volume=_first(filled.gas),
        pump_flow=_first(filled.flow),
        pumped=_first(filled.pumped),
        phase=names[filled.phase],
        set_pressure=filling.set_pressure,
        volume=filling.volume,
        seconds_to_pressure=float(pressure[0]),
        seconds_to_liquid=float(liquid[0]),
        liquid_band=(float(liquid[:3].min()), float(liquid[:3].max())),
        moved_by_prime=float(filled.pumped[primed, 0]),
        left_by_prime=float(filled.gauge[settled, 0]),
        rated_flow=rated,
        shares=shares,
        mass_error=filled.mass_error,
    )


def _first(values: FloatArray) -> PointArray:
    return np.asarray(values[:, 0])
