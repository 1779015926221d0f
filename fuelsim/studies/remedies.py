"""The ladder of remedies: what each change gains against boiling, in kelvin, on one car in one kind of heat.

A change acts in two ways: at once, on temperature and pressure where fuel might boil, and through the tank, which after
an hour or more stands warmer or cooler. Both are told apart.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener, units
from fuelsim.car.heat_parts import Cooler
from fuelsim.car.tables import FuelChoice
from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.studies.margins import calm_fuel
from fuelsim.system.conditions import Conditions
from fuelsim.system.exchange import between, moving_share
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.plumbing import plumb
from fuelsim.system.run import System

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.car.car import Car

__all__ = ["Ladder", "Remedy", "remedies", "tank_after"]

CAUTION = (
    "Petrol burns and its lines hold pressure: local rules and licensed practice decide on any change, and no figure "
    "here says that a car is safe."
)


@dataclass(frozen=True)
class Remedy:
    """One change and what it gains.

    Attributes
    ----------
    name : str
        What is done.
    pump_gain, rail_gain : float
        K of margin to boiling at the pump's inlet and in the rail, all told.
    pump_gain_at_once, rail_gain_at_once : float
        K with the tank as warm as before.
    tank_change : float
        K by which the tank stands warmer after the time of the study.
    note : str
        What to mind.
    """

    name: str
    pump_gain: float
    rail_gain: float
    pump_gain_at_once: float
    rail_gain_at_once: float
    tank_change: float
    note: str = ""


@dataclass(frozen=True)
class Ladder:
    """Remedies of one car, the one with the most kelvin at the pump's inlet first.

    Attributes
    ----------
    layout : str
    hours : float
        Since the cool start.
    tank_temperature, pump_margin, rail_margin : float
        Of the car as it is, K.
    remedies : list of Remedy
    """

    layout: str
    hours: float
    tank_temperature: float
    pump_margin: float
    rail_margin: float
    remedies: list[Remedy]

    def table(self) -> pd.DataFrame:
        """Return one row per remedy, kelvin."""
        return opener.ladder_table(self)


@dataclass(frozen=True)
class _Case:
    """A car in a layout under conditions."""

    car: Car
    layout: str
    conditions: dict[str, Any]


def tank_after(car: Car, layout: str, hours: float, start: float, conditions: dict[str, Any]) -> float:
    """Return the temperature of a tank after some hours of steady driving, K, short of boiling.

    ``C dT/dt = Q(T) + UA (T_air - T) + radiation`` with the heat Q that the plumbing brings, straight between two tank
    temperatures: an exponential. Fuel burnt and light ends lost on the way are left to `fuelsim.transients.drive`.

    Parameters
    ----------
    car : Car
    layout : str
    hours : float
    start : float
        K.
    conditions : dict
        As `Conditions`.
    """
    own = car.fuel.fuel()
    system, tank = System(car, layout, calm_fuel(own.ethanol)), car.tank
    boils = float(own.tables().bubble_temperature(_tank_pressure(car, conditions)))
    # Both well below boiling, where the heat brought is a straight line over the tank's temperature.
    temperatures = np.array([boils - 25.0, boils - 8.0])
    run = system.solve(Conditions(tank_temperature=temperatures, **conditions))
    heat = np.asarray(run.tank_heat_flow)
    slope = (heat[1] - heat[0]) / (temperatures[1] - temperatures[0])
    speed = float(units.convert(conditions.get("vehicle_speed", 0.0), "speed"))
    points = run.conditions.points()
    zones = air_around(
        car,
        points["air_temperature"],
        points["tank_temperature"],
        points["vehicle_speed"],
        points.get("bay_temperature"),
        points.get("underfloor_temperature"),
    )
    floor = float(zones["underfloor"][0])
    moving = 2.0 * tank.heat_conductance if tank.moving_heat_conductance is None else tank.moving_heat_conductance
    conductance = float(between(tank.heat_conductance, moving, moving_share(speed)))
    rate = conductance - slope
    at_rest = (heat[0] - slope * temperatures[0] + conductance * floor + tank.radiated_heat) / rate
    capacity = tank.fuel_volume * float(system.fuel.density(start)) * float(system.fuel.heat_capacity(start))
    return float(at_rest + (start - at_rest) * np.exp(-rate * hours * 3600.0 / capacity))


def _tank_pressure(car: Car, conditions: dict[str, Any]) -> float:
    altitude = conditions.get("altitude", car.surroundings.altitude)
    gauge = conditions.get("vapour_space_pressure", car.tank.gauge_pressure(0.0))
    return float(standard_pressure(units.convert(altitude, "altitude"))) + float(
        units.convert(gauge, "pressure difference")
    )


def _pump_in_tank(case: _Case) -> _Case | None:
    if case.car.pump.mounting == "in_tank":
        return None
    return dataclasses.replace(case, car=case.car.with_pump_in_tank())


def _bigger_suction(case: _Case) -> _Case | None:
    if case.car.suction is None or case.car.suction.bore >= 0.0109:
        return None
    return dataclasses.replace(case, car=case.car.with_values({"suction.bore": 10.92e-3}))


def _lower_vapour_pressure(case: _Case) -> _Case | None:
    fuel = case.car.fuel.fuel()
    try:
        choice = FuelChoice(vapour_pressure=fuel.dvpe() - 10e3, ethanol=fuel.ethanol)
        choice.fuel()
    except InputError:
        return None
    return dataclasses.replace(case, car=dataclasses.replace(case.car, fuel=choice))


def _cap(case: _Case) -> _Case | None:
    return dataclasses.replace(case, conditions=case.conditions | {"vapour_space_pressure": 7e3})


def _fuller_tank(case: _Case) -> _Case | None:
    tank = case.car.tank
    if tank.fuel_volume > 0.85 * tank.volume:
        return None
    return dataclasses.replace(case, car=case.car.with_values({"tank.fuel_volume": 0.95 * tank.volume}))


def _larger_tank(case: _Case) -> _Case | None:
    tank = case.car.tank
    larger = dataclasses.replace(
        tank,
        volume=1.5 * tank.volume,
        fuel_volume=1.5 * tank.fuel_volume,
        # surface grows with the square of the cube root
        heat_conductance=tank.heat_conductance * 1.5 ** (2.0 / 3.0),
    )
    return dataclasses.replace(case, car=dataclasses.replace(case.car, tank=larger))


def _shields(case: _Case) -> _Case | None:
    values: dict[str, Any] = {}
    for link in plumb(case.car, case.layout).lines:
        if getattr(case.car, link.table) is not None and link.part.exhaust_flux > 0.0:
            values[f"{link.table}.exhaust_shields"] = link.part.exhaust_shields + 1
    return dataclasses.replace(case, car=case.car.with_values(values)) if values else None


def _cooler(case: _Case) -> _Case | None:
    if case.car.cooler is not None or not plumb(case.car, case.layout).has_return:
        return None
    return dataclasses.replace(case, car=dataclasses.replace(case.car, cooler=Cooler(heat_conductance=12.0)))


def _tank_side_regulator(case: _Case) -> _Case | None:
    if not plumb(case.car, case.layout).has_return:
        return None
    spills_in_tank = [name for name in case.car.layouts() if not plumb(case.car, name).has_return]
    return dataclasses.replace(case, layout=spills_in_tank[0]) if spills_in_tank else None


def _slower_pump(case: _Case) -> _Case | None:
    if float(np.min(units.convert(case.conditions.get("pump_duty", 1.0), "fraction"))) < 0.99:
        return None
    slowed = dataclasses.replace(case, conditions=case.conditions | {"pump_duty": 0.75})
    run = slowed.car.system(slowed.layout).solve(Conditions(**slowed.conditions))
    holds = np.all(run.outcome.converged) and np.all(run.bypass_flow > 5.0 * L_PER_HOUR)
    return slowed if holds else None


def _higher_set_pressure(case: _Case) -> _Case | None:
    regulators = plumb(case.car, case.layout).regulators
    if not regulators:
        return None
    raised = {f"{link.table}.set_pressure": link.part.set_pressure + 100e3 for link in regulators}
    return dataclasses.replace(case, car=case.car.with_values(raised))


_LADDER: tuple[tuple[str, Callable[[_Case], _Case | None], str], ...] = (
    ("pump into the tank", _pump_in_tank, "hose and wiring in the tank must be made for immersion in fuel"),
    ("suction line of 10.9 mm", _bigger_suction, ""),
    ("fuel of 10 kPa lower vapour pressure", _lower_vapour_pressure, "a colder start needs more vapour"),
    ("pressure cap of 7 kPa", _cap, "the tank must be made for the pressure; it vents when it is opened"),
    ("tank filled up", _fuller_tank, ""),
    ("tank half as large again", _larger_tank, ""),
    ("one more foil shield at the exhaust", _shields, ""),
    ("cooler of 12 W/K in the return", _cooler, "it is a part of the fuel line and must be placed clear of impact"),
    ("regulator at the tank", _tank_side_regulator, "the rail is dead-ended and runs hotter at idle"),
    ("pump slowed to 75 % while demand is small", _slower_pump, "full speed must return before demand does"),
    ("set pressure 100 kPa higher", _higher_set_pressure, "injectors pass more, and the pump less"),
)


def remedies(
    car: Car,
    layout: str,
    *,
    hours: float = 1.0,
    start_temperature: Any = None,
    conditions: dict[str, Any] | None = None,
) -> Ladder:
    """Try each remedy alone and tell what it gains.

    Parameters
    ----------
    car : Car
    layout : str
    hours : float
        Of steady driving since the start.
    start_temperature : float or str, optional
        Of the tank, K; the ambient air's if left out.
    conditions : dict, optional
        Names and values of `Conditions`; idling in traffic if left out.

    Returns
    -------
    Ladder

    Notes
    -----
    Margins are those to the bubble temperature at the local pressure, as if nothing boiled upstream, so they go on
    below zero. `CAUTION` belongs to every table of these.

    Examples
    --------
    >>> import fuelsim as fs
    >>> ladder = remedies(fs.Car.named("heron"), "return", hours=1.0)
    >>> gains = {remedy.name: remedy.pump_gain_at_once for remedy in ladder.remedies}
    >>> bool(1.0 < gains["pump into the tank"] < 6.0)
    True
    """
    wanted = {"rpm": car.engine.idle_speed, "load": 0.0} if conditions is None else dict(conditions)
    air = wanted.get("air_temperature", car.surroundings.air_temperature)
    start = float(units.convert(air if start_temperature is None else start_temperature, "temperature"))
    base = _Case(car, layout, wanted)
    tank = tank_after(car, layout, hours, start, wanted)
    pump, rail = _margins(base, tank)
    found = []
    for name, change, note in _LADDER:
        changed = change(base)
        if changed is None:
            continue
        at_once = _margins(changed, tank)
        later_tank = tank_after(changed.car, changed.layout, hours, start, changed.conditions)
        later = _margins(changed, later_tank)
        found.append(
            Remedy(
                name,
                later[0] - pump,
                later[1] - rail,
                at_once[0] - pump,
                at_once[1] - rail,
                later_tank - tank,
                note,
            )
        )
    found.sort(key=lambda remedy: -remedy.pump_gain)
    return Ladder(layout, hours, tank, pump, rail, found)


def _margins(case: _Case, tank_temperature: float) -> tuple[float, float]:
    """Return the margins at the pump's inlet and in the rail, K, as if nothing had boiled before."""
    fuel = case.car.fuel.fuel()
    system = System(case.car, case.layout, calm_fuel(fuel.ethanol))
    run = system.solve(Conditions(tank_temperature=tank_temperature, **case.conditions))
    boils = fuel.tables().bubble_temperature
    inlet, rail = (float(boils(run.pressure[name])) - float(run.temperature[name]) for name in ("pump_inlet", "rail"))
    return inlet, rail
