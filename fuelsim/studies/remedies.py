"""Remedies against vapour: what each change gains, in kelvin to boiling, on one car in one kind of heat.

A change acts in two ways: at once, on temperature and pressure where fuel might boil, and through the tank, which after
an hour or more is warmer or cooler. Both are told apart.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.car.heat_parts import Cooler
from fuelsim.car.tables import plain_table
from fuelsim.constants import L_PER_HOUR
from fuelsim.errors import InputError
from fuelsim.interruption import WHOLE, Completion, Interruptible, run_steps
from fuelsim.parts.filter import Filter
from fuelsim.shown import Shown
from fuelsim.studies.margins import calm_fuel
from fuelsim.studies.tank_warming import at_tank_temperature, tank_after
from fuelsim.system.conditions import ONE_CONDITION, Conditions
from fuelsim.system.plumb import plumb
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing_paths import drawn_from, links_before, regulator_groups
from fuelsim.system.run import System
from fuelsim.typing import Given, PlotAxes, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Remedy", "RemedyGains", "remedies"]

CAUTION = (
    "Petrol burns and its lines hold pressure: local rules and licensed practice decide on any change, and no figure "
    "here says that a car is safe."
)
ADDED_COOLER = "cooler_in_return"
"""Name of the cooler that is tried in a plumbing of the car's own."""
WIDE_SUCTION = 10.92e-3
"""Bore of the larger suction line that is tried, m: dash 10 tube."""


@dataclass(frozen=True)
class Remedy:
    """One change and what it gains.

    Attributes
    ----------
    name : str
        What is done.
    pump_gain, rail_gain : float
        Gain in temperature margin to boiling at the pump's inlet and in the rail, after the time of the study, K.
    pump_gain_at_once, rail_gain_at_once : float
        Gain with the tank as warm as before, K.
    tank_change : float
        Temperature by which the tank is warmer after the time of the study, K.
    note : str
        What to mind.

    Examples
    --------
    >>> remedy = Remedy("a cooler", 2.0, 5.0, 0.5, 3.0, tank_change=-1.5)
    >>> remedy.pump_gain > remedy.pump_gain_at_once
    True
    """

    name: str
    pump_gain: float
    rail_gain: float
    pump_gain_at_once: float
    rail_gain_at_once: float
    tank_change: float
    note: str = ""


@dataclass(frozen=True)
class RemedyGains(Interruptible, Shown):
    """What each remedy gains on one car, the one with the greatest gain at the pump's inlet first.

    Attributes
    ----------
    layout : str
        The layout of the car.
    hours : float
        Time of steady driving since the cool start, h.
    tank_temperature : float
        Temperature of the tank after that time, of the car as it is, K.
    pump_margin, rail_margin : float
        Temperature margin to boiling at the pump's inlet and in the rail, of the car as it is, K.
    remedies : list of Remedy
        Those that apply to the car.
    completion : Completion
        How many remedies were tried before the end or before Ctrl-C.

    Examples
    --------
    >>> import fuelsim as fs
    >>> gains = fs.remedies(fs.Car.named("heron"), "return").remedies
    >>> gains[0].pump_gain >= gains[-1].pump_gain
    True
    """

    layout: str
    hours: float
    tank_temperature: float
    pump_margin: float
    rail_margin: float
    remedies: list[Remedy]
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return how many remedies there are, and the best."""
        best = self.remedies[0].name if self.remedies else "none"
        return f"{len(self.remedies)} remedies for '{self.layout}'; most at the pump's inlet: {best}"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per remedy: what it gains, at once too, and a note.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> fan = Remedy("fan at the pump", 2.0, 0.5, 1.0, 0.2, -1.0)
        >>> RemedyGains("return", 1.0, 320.0, 4.0, 20.0, [fan]).table("US workshop")["rail_gain_degF"].round(2).tolist()
        [0.9]
        """
        return opener.remedy_table(self, units)

    @takes()
    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw what each remedy gains at the pump's inlet and in the rail, the best on top.

        Parameters
        ----------
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> fan = Remedy("fan at the pump", 2.0, 0.5, 1.0, 0.2, -1.0)
        >>> RemedyGains("return", 1.0, 320.0, 4.0, 20.0, [fan]).plot().axes[0].get_xlabel()
        'gain in margin to boiling, K'
        """
        return opener.remedy_figure(self, ax)


@dataclass(frozen=True)
class _Case:
    """A car in a layout under conditions."""

    car: Car
    layout: str
    conditions: Mapping[str, Given]


class _Margins(NamedTuple):
    """Temperature margins to boiling, K."""

    pump: float
    rail: float


def _pump_in_tank(case: _Case) -> _Case | None:
    plumbing = plumb(case.car, case.layout)
    if not plumbing.layout.own:
        if plain_table(case.car.pump, "pump").mounting == "in_tank":
            return None
        return dataclasses.replace(case, car=case.car.with_pump_in_tank())
    outside = [pump for pump in plumbing.pumps if pump.part.mounting == "external"]
    if not outside or any(drawn_from(plumbing, pump.upstream) != plumbing.vessel for pump in outside):
        return None
    # The pumps hang in the tank: what led to them, but for the strainers, falls away.
    mounted = case.car.with_values({f"{pump.table}.mounting": "in_tank" for pump in outside})
    gone = {
        link.name
        for pump in outside
        for link in links_before(plumbing, pump.upstream)
        if not isinstance(link.part, Filter)
    }
    runs = [[name for name in run if name not in gone] for run in plumbing.layout.runs]
    known = {name: height for name, height in plumbing.layout.heights.items() if name not in gone}
    heights = known | {pump.name: 0.03 for pump in outside}
    try:
        car = mounted.with_plumbing(case.layout, runs, plumbing.layout.title, heights)
    except InputError:
        return None
    return dataclasses.replace(case, car=car)


def _bigger_suction(case: _Case) -> _Case | None:
    narrow = [link for link in plumb(case.car, case.layout).suction_lines if link.part.bore < WIDE_SUCTION - 1e-5]
    values = {f"{link.table}.bore": WIDE_SUCTION for link in narrow}
    return dataclasses.replace(case, car=case.car.with_values(values)) if values else None


def _lower_vapour_pressure(case: _Case) -> _Case | None:
    fuel = case.car.fuel.fuel()
    try:
        choice = FuelChoice(
            vapour_pressure=fuel.dvpe() - 10e3, ethanol=fuel.ethanol, activity_model=fuel.activity_model
        )
        choice.fuel()
    except InputError:
        return None
    return dataclasses.replace(case, car=dataclasses.replace(case.car, fuel=choice))


def _cap(case: _Case) -> _Case | None:
    return dataclasses.replace(case, conditions={**case.conditions, "vapour_space_pressure": 7e3})


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
    values: dict[str, Given] = {}
    for link in plumb(case.car, case.layout).lines:
        if case.car.value_of(link.table) is not None and link.part.exhaust_flux > 0.0:
            values[f"{link.table}.exhaust_shields"] = link.part.exhaust_shields + 1
    return dataclasses.replace(case, car=case.car.with_values(values)) if values else None


def _cooler(case: _Case) -> _Case | None:
    plumbing, cooler = plumb(case.car, case.layout), Cooler(heat_conductance=12.0)
    if not plumbing.layout.own:
        if case.car.cooler is not None or not plumbing.has_return:
            return None
        return dataclasses.replace(case, car=dataclasses.replace(case.car, cooler=cooler))
    if any(isinstance(case.car.part(name), Cooler) for name in plumbing.layout.tables) or not plumbing.has_return:
        return None
    first = plumbing.return_lines[0].name
    runs = [
        [new for name in run for new in ((ADDED_COOLER, name) if name == first else (name,))]
        for run in plumbing.layout.runs
    ]
    car = case.car.with_values({f"coolers.{ADDED_COOLER}": cooler})
    car = car.with_plumbing(case.layout, runs, plumbing.layout.title, plumbing.layout.heights)
    return dataclasses.replace(case, car=car)


def _tank_side_regulator(case: _Case) -> _Case | None:
    if not plumb(case.car, case.layout).has_return:
        return None
    others = {name: plumb(case.car, name) for name in case.car.layouts()}
    spills_in_tank = [name for name, other in others.items() if other.regulators and not other.has_return]
    return dataclasses.replace(case, layout=spills_in_tank[0]) if spills_in_tank else None


def _slower_pump(case: _Case) -> _Case | None:
    if float(np.min(units.convert(case.conditions.get("pump_duty", 1.0), "fraction"))) < 0.99:
        return None
    slowed = dataclasses.replace(case, conditions={**case.conditions, "pump_duty": 0.75})
    conditions = Conditions(rpm=slowed.conditions["rpm"]).with_values(slowed.conditions)
    run = slowed.car.system(slowed.layout).solve(conditions)
    regulates = np.all(run.outcome.converged) and np.all(run.bypass_flow > 5.0 * L_PER_HOUR)
    return slowed if regulates else None


def _higher_set_pressure(case: _Case) -> _Case | None:
    plumbing = plumb(case.car, case.layout)
    at_rails = [link for group in regulator_groups(plumbing) for link in group]
    set_pressures = {link.table: link.part.set_pressure for link in at_rails}
    set_pressures |= {link.table: link.part.set_pressure for link in plumbing.reducers}
    set_pressures |= {table: control.set_pressure for control, table in plumbing.controls.values()}
    if not set_pressures:
        return None
    raised = {f"{table}.set_pressure": pressure + 100e3 for table, pressure in set_pressures.items()}
    return dataclasses.replace(case, car=case.car.with_values(raised))


class _Change(NamedTuple):
    """A remedy: what is done, the case after it (None where it does not apply), and what to mind."""

    name: str
    apply: Callable[[_Case], _Case | None]
    note: str = ""


_CHANGES = (
    _Change("pump into the tank", _pump_in_tank, "hose and wiring in the tank must be made for immersion in fuel"),
    _Change("suction line of 10.9 mm", _bigger_suction),
    _Change("fuel of 10 kPa lower vapour pressure", _lower_vapour_pressure, "a colder start needs more vapour"),
    _Change("pressure cap of 7 kPa", _cap, "the tank must be made for the pressure; it vents when it is opened"),
    _Change("tank filled up", _fuller_tank),
    _Change("tank half as large again", _larger_tank),
    _Change("one more foil shield at the exhaust", _shields),
    _Change(
        "cooler of 12 W/K in the return",
        _cooler,
        "it is a part of the fuel line and must be placed clear of impact",
    ),
    _Change("regulator at the tank", _tank_side_regulator, "the rail is dead-ended and runs hotter at idle"),
    _Change("pump slowed to 75 % while demand is small", _slower_pump, "full speed must return before demand does"),
    _Change("set pressure 100 kPa higher", _higher_set_pressure, "injectors pass more, and the pump less"),
)


@system_or_car
@takes(
    {
        "hours": number("number", 0.0, 48.0, example="1.5", single=True),
        "start_temperature": ONE_CONDITION["tank_temperature"],
    }
)
def remedies(
    car: Car,
    layout: str,
    *,
    hours: float = 1.0,
    start_temperature: Given | None = None,
    conditions: Mapping[str, Given] | None = None,
) -> RemedyGains:
    """Return what each remedy against vapour gains alone.

    Parameters
    ----------
    car : Car
        The car.
    layout : str
        One of its layouts.
    hours : float
        Time of steady driving since the start, h.
    start_temperature : float or str, optional
        Temperature of the tank at the start, K; left out, that of the ambient air.
    conditions : mapping, optional
        Names and values of `Conditions`, the engine speed among them; left out, idling in traffic.

    Returns
    -------
    RemedyGains

    Raises
    ------
    InputError
        For an unknown layout or condition, or conditions without an engine speed.
    KeyboardInterrupt
        After Ctrl-C before the car as it is has been solved; later it ends the study with what is finished.

    Notes
    -----
    Margins are those to the bubble temperature at the local pressure, as if nothing boiled upstream, so they go on
    below zero. `CAUTION` belongs to every table of these.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = remedies(fs.Car.named("heron"), "return", hours=1.0)
    >>> gains = {remedy.name: remedy.pump_gain_at_once for remedy in result.remedies}
    >>> bool(1.0 < gains["pump into the tank"] < 6.0)
    True
    """
    driving = {"rpm": car.engine.idle_speed, "load": 0.0} if conditions is None else dict(conditions)
    air = driving.get("air_temperature", car.surroundings.air_temperature)
    start = float(units.convert(air if start_temperature is None else start_temperature, "temperature"))
    base = _Case(car, layout, driving)
    tank = tank_after(car, layout, hours, start, driving)
    before = _margins(base, tank)

    def tried(change: _Change) -> Remedy | None:
        changed = change.apply(base)
        if changed is None:
            return None
        at_once = _margins(changed, tank)
        later_tank = tank_after(changed.car, changed.layout, hours, start, changed.conditions)
        later = _margins(changed, later_tank)
        return Remedy(
            name=change.name,
            pump_gain=later.pump - before.pump,
            rail_gain=later.rail - before.rail,
            pump_gain_at_once=at_once.pump - before.pump,
            rail_gain_at_once=at_once.rail - before.rail,
            tank_change=later_tank - tank,
            note=change.note,
        )

    results, completion = run_steps(_CHANGES, tried, doing="remedies", of="remedies", progress=False)
    gains = sorted((remedy for remedy in results if remedy), key=lambda remedy: -remedy.pump_gain)
    return RemedyGains(layout, hours, tank, before.pump, before.rail, gains, completion)


def _margins(case: _Case, tank_temperature: float) -> _Margins:
    """Return the least margins at the pumps' inlets and in the rails, K, as if nothing had boiled before."""
    fuel = case.car.fuel.fuel()
    system = System(case.car, case.layout, calm_fuel(fuel.ethanol))
    run = system.solve(at_tank_temperature(case.conditions, tank_temperature))
    boiling = fuel.tables().bubble_temperature

    def margin(stations: Iterable[str]) -> float:
        return min(float(boiling(run.pressure[name])) - float(run.temperature[name]) for name in stations)

    return _Margins(margin(pump.upstream for pump in system.plumbing.pumps), margin(system.plumbing.rails))
