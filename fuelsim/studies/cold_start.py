"""Does the engine start in the cold: supply, pump, rail, and the vapour that the fuel supplied gives."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import number, takes, unchecked
from fuelsim.car.car import Car
from fuelsim.car.cold_mixture import ColdMixture
from fuelsim.car.engine import CRANKING_SPEED
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.fuel.lighting import SURE_RICHNESS, richness_to_light
from fuelsim.fuel.water import WaterHeld, water_held
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.parts.supply import Supply
from fuelsim.shown import Shown
from fuelsim.system.conditions import CONDITIONS, Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray, Given, TextArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ColdStart", "cold_start"]

TEMPERATURES = tuple(celsius + ZERO_CELSIUS for celsius in (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0))
CRANKING_RPM = 150.0
"""Speed at which a starter turns a cold engine, rpm [assumed]."""
_DELIVERED = 0.9
"""Share of the fuel asked for below which the delivery, not the mixture asked for, is to blame [assumed]."""


@dataclass(frozen=True, repr=False)
class ColdStart(Shown):
    """A cold engine while it cranks, at each temperature; every array is (temperatures,).

    Attributes
    ----------
    layout : str
        Layout of the car.
    fuel : str
        Name or description of the fuel.
    temperature : array
        Temperature of fuel, air and engine, K.
    supply_voltage : array
        Voltage of the battery while cranking, V.
    richness : array
        Fuel that the injectors deliver over the stoichiometric fuel of the air.
    richness_asked : array
        The same of the fuel that the engine asks for.
    richness_to_light : array
        Least richness of which enough evaporates to be lit at all; infinite where none is enough.
    richness_to_light_surely : array
        Least richness of which the vapour alone is stoichiometric.
    starts : array of str
        ``"surely"``, ``"perhaps"`` between the two, ``"not"``, or ``"unsolved"``.
    limited_by : array of str
        Cause, where a start is not sure: ``"evaporation"`` where no richness is enough for a sure one, ``"delivery"``
        where the injectors deliver less than asked, ``"enrichment"`` where the engine asks for less than is needed.
    water : WaterHeld
        Water that the fuel holds before it separates, fractions of its volume.
    run : Run
        The system while cranking.
    """

    layout: str
    fuel: str
    temperature: FloatArray
    supply_voltage: FloatArray
    richness: FloatArray
    richness_asked: FloatArray
    richness_to_light: FloatArray
    richness_to_light_surely: FloatArray
    starts: TextArray
    limited_by: TextArray
    water: WaterHeld
    run: Run = dataclasses.field(repr=False)

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per temperature.

        Parameters
        ----------
        units : str, optional
            System of units; the preferred one, if left out.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> table = fs.cold_start(fs.Car.named("finch"), "return", ["0 degC"]).table()
        >>> {"supply_V", "rail_kPa_gauge", "richness_to_light", "starts"} <= set(table.columns)
        True
        """
        return opener.cold_start_table(self, units)

    @property
    def headline(self) -> str:
        """Return down to which temperature it starts."""
        coldest = [
            (state, float(self.temperature[self.starts == state].min()))
            for state in ("surely", "perhaps")
            if np.any(self.starts == state)
        ]
        starts = ", ".join(f"{state} at {units.shown(kelvin, 'temperature', digits=3)}" for state, kelvin in coldest)
        return f"{self.layout}, {self.fuel}: " + (f"coldest start {starts}" if starts else "no start")


@system_or_car
@takes(
    {
        "temperature": CONDITIONS["engine_temperature"],
        "cranking_speed": number("engine speed", 0.0, 3000.0, example="150 rpm", single=True),
        "supply_voltage": CONDITIONS["supply_voltage"],
    }
)
def cold_start(
    car: Car,
    layout: str,
    temperature: Given = TEMPERATURES,
    *,
    cranking_speed: Given = CRANKING_RPM,
    supply_voltage: Given | None = None,
) -> ColdStart:
    """Return whether a cold engine finds fuel pressure and a mixture that can be lit while it cranks.

    Fuel, air, bay and engine have the same temperature. The battery's voltage falls with it by the car's table
    ``[supply]``, or by the typical one of a 12 V battery; the pump delivers what the viscosity of the fuel leaves; the
    engine asks for fuel by its table ``[engine.cold]``, or by the typical one. Whether it lights follows from the
    vapour in equilibrium (`fuelsim.vapour_to_light`): between the lower flammable limit, which a start needs at the
    least, and a stoichiometric vapour lies what the model cannot decide. Cranking speed of a stiff engine, oil, spark
    and wet plugs are left out.

    Parameters
    ----------
    car : Car
    layout : str
        One of `Car.layouts`.
    temperature : float, str or list
        233.15 K and more.
    cranking_speed : float or str
        Below half of the idle speed, rpm.
    supply_voltage : float, str or list, optional
        Measured voltage of the battery while cranking, V.

    Returns
    -------
    ColdStart

    Raises
    ------
    InputError
        For a cranking speed at which the engine idles, or a temperature outside the range.

    Examples
    --------
    A car on neat ethanol does not start in frost, on winter petrol it does:

    >>> import fuelsim as fs
    >>> finch = fs.Car.named("finch")
    >>> [str(fs.cold_start(finch.with_values({"fuel.name": name}), "return", ["-10 degC"]).starts[0])
    ...  for name in ("neat_ethanol", "winter_e10")]
    ['not', 'surely']
    """
    at = np.atleast_1d(np.asarray(units.convert(temperature, "temperature"), dtype=float)).ravel()
    speed = float(units.convert(cranking_speed, "engine speed"))
    supply = Supply() if car.supply is None else car.supply
    slowest = CRANKING_SPEED * float(min(np.min(car.engine.idle_speed), np.min(supply.idle_speed)))
    if not 0.0 < speed < slowest:
        raise InputError(
            "not a cranking speed",
            given=cranking_speed,
            accepted=f"above 0, below half of idle, {slowest:g} rpm",
            key="cranking_speed",
        )
    cold = car if car.engine.cold is not None else _with_typical_enrichment(car)
    if supply_voltage is None:
        battery = unchecked(supply.voltage)(speed, battery_temperature=at)
    else:
        battery = np.broadcast_to(np.asarray(units.convert(supply_voltage, "voltage"), dtype=float), at.shape)
    system = System(cold, layout)
    conditions = Conditions(
        rpm=speed,
        tank_temperature=at,
        air_temperature=at,
        bay_temperature=at,
        underfloor_temperature=at,
        engine_temperature=at,
        supply_voltage=battery,
    )
    return _judged(system, system.solve(conditions), at, battery)


def _with_typical_enrichment(car: Car) -> Car:
    return dataclasses.replace(car, engine=dataclasses.replace(car.engine, cold=ColdMixture()))


def _judged(system: System, run: Run, at: FloatArray, battery: FloatArray) -> ColdStart:
    """Return what a run of cranking comes to."""
    car, fuel = system.car, system.fuel
    ratio = fuel.stoichiometric_air_fuel_ratio
    pressure = float(standard_pressure(car.surroundings.altitude))
    demand = car.engine.demand(
        run.conditions.rpm,
        1.0,
        stoichiometric_air_fuel_ratio=ratio,
        atmospheric_pressure=pressure,
        air_temperature=at,
        engine_temperature=at,
    )
    richness = run.burnt_mass_flow * ratio / demand.air_mass_flow
    asked = np.broadcast_to(1.0 / demand.lambda_demanded, at.shape)
    least, surely = (
        np.asarray(richness_to_light(fuel, at, vapour_richness=wanted, pressure=pressure))
        for wanted in (None, SURE_RICHNESS)
    )
    starts = np.where(richness >= surely, "surely", np.where(richness >= least, "perhaps", "not"))
    short = np.where(richness < _DELIVERED * asked, "delivery", "enrichment")
    limited = np.where(richness >= surely, "", np.where(np.isinf(surely), "evaporation", short))
    solved = np.isfinite(richness)
    return ColdStart(
        layout=system.layout,
        fuel=fuel.label or repr(fuel),
        temperature=at,
        supply_voltage=battery,
        richness=richness,
        richness_asked=asked,
        richness_to_light=least,
        richness_to_light_surely=surely,
        starts=np.where(solved, starts, "unsolved"),
        limited_by=np.where(solved, limited, ""),
        water=water_held(fuel, at),
        run=run,
    )
