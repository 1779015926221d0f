"""Compare layouts and variants of a car over the rev range and over the temperature of the tank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener, units
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.finding import Finding
from fuelsim.studies.findings import findings
from fuelsim.studies.progress import run_steps
from fuelsim.studies.vary import Changes
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Comparison", "compare"]

DEFAULT_TANK_TEMPERATURES = tuple(celsius + 273.15 for celsius in (20.0, 30.0, 40.0, 45.0, 50.0, 55.0, 60.0))
DEFAULT_SPEEDS = 25


@dataclass(frozen=True)
class LayoutSummary:
    """What one layout does, over the rev range at the car's own tank temperature.

    Attributes
    ----------
    layout : str
        Name of the layout.
    least_rail_pressure, least_rail_pressure_speed : float
        Pa gauge at full load, and the engine speed where it stands.
    least_pressure_difference : float
        Least rail minus manifold, Pa.
    idle_rail_pressure : float
        Pa gauge at idle.
    idle_pressure_difference : float
        Rail minus manifold at idle, Pa.
    least_bypass_flow, idle_bypass_flow : float
        m3/s through the regulator.
    shut_speed : float
        Lowest engine speed at which the regulator is shut at full load, NaN if it never is.
    greatest_duty : float
        Of the injectors.
    least_pump_voltage, greatest_pump_current : float
        At the pump's terminals.
    tank_heat_flow : float
        W carried back into the tank at idle.
    idle_rail_temperature : float
        K.
    """

    layout: str
    least_rail_pressure: float
    least_rail_pressure_speed: float
    least_pressure_difference: float
    idle_rail_pressure: float
    idle_pressure_difference: float
    least_bypass_flow: float
    idle_bypass_flow: float
    shut_speed: float
    greatest_duty: float
    least_pump_voltage: float
    greatest_pump_current: float
    tank_heat_flow: float
    idle_rail_temperature: float


@dataclass(frozen=True)
class Comparison:
    """Layouts of one car on the same operating points.

    Attributes
    ----------
    car : Car
        The car.
    systems : dict of str to System
        What was compared, by name: the layout, the variant, or both.
    full_load : dict of str to Run
        By layout; shape (speeds, tank temperatures), load 1.
    idle : dict of str to Run
        By layout; shape (tank temperatures,), idle speed, closed throttle.
    at_car : dict of str to Run
        By layout; shape (speeds + 1,): idle, then full load, at the car's own tank temperature.
    rpm : array (speeds,)
        Engine speeds.
    tank_temperature : array (tank temperatures,)
        K.
    interrupted : bool
        Whether Ctrl-C ended the comparison before all systems were run; those that are there are whole.
    """

    car: Car
    systems: dict[str, System]
    full_load: dict[str, Run]
    idle: dict[str, Run]
    at_car: dict[str, Run]
    rpm: Any
    tank_temperature: Any
    interrupted: bool = False

    @property
    def layouts(self) -> tuple[str, ...]:
        """Names of what is compared: layouts, variants, or both."""
        return tuple(self.full_load)

    def summary(self, layout: str) -> LayoutSummary:
        """Return the figures of one layout at the car's own tank temperature."""
        run = self.at_car[layout]
        rail = np.asarray(run.gauge_pressure["rail"])[1:]
        lowest = int(np.nanargmin(rail)) if np.any(np.isfinite(rail)) else 0
        shut = run.regulator_regime[1:] == "shut"
        full = slice(1, None)
        return LayoutSummary(
            layout=layout,
            least_rail_pressure=float(rail[lowest]),
            least_rail_pressure_speed=float(self.rpm[lowest]),
            least_pressure_difference=_least(run.injector_pressure_difference[full]),
            idle_rail_pressure=float(run.gauge_pressure["rail"][0]),
            idle_pressure_difference=float(run.injector_pressure_difference[0]),
            least_bypass_flow=_least(run.bypass_flow),
            idle_bypass_flow=float(run.bypass_flow[0]),
            shut_speed=float(self.rpm[np.argmax(shut)]) if shut.any() else np.nan,
            greatest_duty=-_least(-np.asarray(run.injector_duty)),
            least_pump_voltage=_least(run.pump_voltage["pump"]),
            greatest_pump_current=-_least(-np.asarray(run.pump_current["pump"])),
            tank_heat_flow=float(run.tank_heat_flow[0]),
            idle_rail_temperature=float(run.temperature["rail"][0]),
        )

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per layout: pressures, bypass, duty, volts and amps at the car's own tank temperature."""
        return opener.layout_table(self, system)

    def differences(self, reference: str | None = None, system: str | None = None) -> pd.DataFrame:
        """Return what each row of `table` has more than the reference, which is the first unless named."""
        return opener.difference_table(self, reference or self.layouts[0], system)

    def vapour_table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per layout and tank temperature: margins, vapour, noise and flow loss."""
        return opener.vapour_table(self, system)

    def sentences(self) -> list[str]:
        """Say in a sentence or two per layout what limits it."""
        return [limits_sentence(self, layout) for layout in self.layouts]

    def findings(self, layout: str) -> list[Finding]:
        """Return what the checks find in one layout at the car's own tank temperature, the gravest first."""
        return findings(self.systems[layout], self.at_car[layout])

    def plot(self) -> Figure:
        """Draw rail pressure and bypass over the rev range, and vapour margins over the tank's temperature."""
        return opener.comparison_figure(self)

    def report(self, path: Path | str) -> Path:
        """Write one self-contained HTML file; it appears whole or not at all."""
        return opener.write_report(self, path)

    def limit_temperature(self, values: Any) -> float:
        """Return the tank temperature in K at which `values`, one per tank temperature, first fall below zero.

        NaN if they never do within the range compared; the first temperature if they are negative from the start.
        """
        values = np.asarray(values, dtype=float)
        negative = np.flatnonzero(values < 0.0)
        if negative.size == 0:
            return np.nan
        index = int(negative[0])
        if index == 0:
            return float(self.tank_temperature[0])
        above, below = values[index - 1], values[index]
        share = above / (above - below)
        low, high = self.tank_temperature[index - 1], self.tank_temperature[index]
        return float(low + share * (high - low))

    @property
    def tank_boiling_temperature(self) -> float:
        """Temperature in K at which the fuel in the tank boils under the pressure of the tank's vapour space."""
        run = self.at_car[self.layouts[0]]
        return float(self.systems[self.layouts[0]].fuel.bubble_temperature(float(np.asarray(run.pressure["tank"])[0])))

    def suction_limits(self, layout: str) -> tuple[float, float]:
        """Return the tank temperatures in K above which the pump is noisy, and above which it loses flow to vapour."""
        run, idle = self.full_load[layout], self.idle[layout]
        noise = np.fmin(np.nanmin(run.suction_margin, axis=0), idle.suction_margin)
        margin = np.fmin(np.nanmin(run.vapour_margin["pump_inlet"], axis=0), idle.vapour_margin["pump_inlet"])
        return self.limit_temperature(noise), self.limit_temperature(margin)


def _least(values: Any) -> float:
    values = np.asarray(values, dtype=float)
    return float(np.nanmin(values)) if np.any(np.isfinite(values)) else np.nan


def compare(
    car: Car,
    layouts: Sequence[str] | None = None,
    *,
    variants: Mapping[str, Changes | Car] | None = None,
    rpm: Any = None,
    tank_temperature: Any = None,
    air_temperature: Any = None,
    altitude: Any = None,
    supply_voltage: Any = None,
    progress: bool | None = None,
) -> Comparison:
    """Compare layouts, variants or cars on the outer product of engine speeds and tank temperatures.

    Parameters
    ----------
    car : Car
        The car.
    layouts : sequence of str, optional
        Names of layouts; all the car has the parts for, if left out.
    variants : mapping, optional
        Name to changes of the car, such as `vary` makes, or to another car; each is run in each layout on the same
        conditions.
    rpm : list, optional
        Engine speeds at full load; 25 from idle to red line, if left out.
    tank_temperature : list, optional
        With unit, or K; 20 to 60 degC, if left out.
    air_temperature, altitude, supply_voltage : optional
        One value each; the car's own, if left out.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        For an unknown layout or variant, or wrong conditions.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "45 degC"])
    >>> result.layouts
    ('return', 'returnless_tank', 'returnless_bay')
    """
    if not isinstance(car, Car):
        raise InputError(
            "not a car", given=car, accepted="a Car: fs.read_car(...) or fs.Car.named(...)", part="compare"
        )
    if isinstance(layouts, str):
        layouts = [layouts]
    chosen = list(car.layouts() if layouts is None else layouts)
    if layouts is not None and not chosen:
        raise InputError("no layout to compare", accepted=", ".join(car.layouts()), part="compare", key="layouts")
    if not chosen:
        raise InputError(
            "the car has no regulator for any layout",
            accepted="a table [rail_regulator], [tank_regulator] or [bay_regulator]",
            file=car.file,
        )
    engine = car.engine
    if rpm is None:
        rpm = np.linspace(engine.idle_speed, engine.red_line, DEFAULT_SPEEDS)
    if tank_temperature is None:
        tank_temperature = DEFAULT_TANK_TEMPERATURES
    single = {
        "air_temperature": air_temperature,
        "altitude": altitude,
        "supply_voltage": supply_voltage,
    }
    single = {name: value for name, value in single.items() if value is not None}
    grid = Conditions.grid(
        rpm=_listed(rpm, "engine speed"), tank_temperature=_listed(tank_temperature, "temperature"), **single
    )
    speeds, temperatures = grid.rpm.reshape(-1), grid.tank_temperature.reshape(-1)
    at_idle = Conditions.grid(rpm=engine.idle_speed, load=0.0, tank_temperature=temperatures, **single)
    at_car = Conditions(
        rpm=np.concatenate([[engine.idle_speed], speeds]),
        load=np.concatenate([[0.0], np.ones(len(speeds))]),
        **single,
    )
    systems = _systems(car, chosen, variants)
    runs, interrupted = run_steps(
        list(systems.values()),
        lambda system: tuple(system.solve(conditions) for conditions in (grid, at_idle, at_car)),
        doing="comparing",
        progress=progress,
    )
    if not runs:
        raise KeyboardInterrupt
    names = list(systems)[: len(runs)]
    full_load, idle, own = (dict(zip(names, column, strict=True)) for column in zip(*runs, strict=True))
    return Comparison(
        car=car,
        systems={name: systems[name] for name in names},
        full_load=full_load,
        idle=idle,
        at_car=own,
        rpm=speeds,
        tank_temperature=temperatures,
        interrupted=interrupted,
    )


def _systems(car: Car, layouts: Sequence[str], variants: Mapping[str, Changes | Car] | None) -> dict[str, System]:
    """Return what is to be compared by name; nothing is solved yet, so that a wrong input costs no time."""
    if variants is None:
        return {layout: car.system(layout) for layout in layouts}
    if not variants:
        raise InputError("no variants", accepted="a mapping of names to changes, as vary makes", key="variants")
    found = {}
    for name, changes in variants.items():
        variant = changes if isinstance(changes, Car) else car.with_values(changes)
        for layout in layouts:
            found[name if len(layouts) == 1 else f"{layout}, {name}"] = variant.system(layout)
    return found


def _listed(value: Any, kind: str) -> Any:
    return np.atleast_1d(units.convert(value, kind))


def _said(value: Any, kind: str) -> str:
    return units.shown(float(value), kind, digits=2)


def limits_sentence(result: Comparison, layout: str) -> str:
    """Say what limits one layout: pressure at speed, bypass, duty, suction noise and vapour."""
    summary = result.summary(layout)
    said = [f"{layout}:"]
    if not np.isfinite(summary.least_rail_pressure):
        return f"{layout}: no operating point solved; {result.at_car[layout].outcome.summary()}."
    if np.isfinite(summary.shut_speed):
        said.append(
            f"the regulator shuts at {summary.shut_speed:.0f} rpm, above which the pump cannot hold the set pressure;"
            f" the rail falls to {_said(summary.least_rail_pressure, 'pressure difference')} gauge at"
            f" {summary.least_rail_pressure_speed:.0f} rpm."
        )
    else:
        said.append(
            f"the regulator keeps at least {_said(summary.least_bypass_flow, 'volume flow')} of bypass over the rev"
            f" range; the lowest rail pressure is {_said(summary.least_rail_pressure, 'pressure difference')} gauge at"
            f" {summary.least_rail_pressure_speed:.0f} rpm."
        )
    if result.at_car[layout].regulator_regime[0] == "wide open":
        said.append(
            f"At idle the regulator is wide open and the return line sets the pressure:"
            f" {_said(summary.idle_rail_pressure, 'pressure difference')} gauge."
        )
    if summary.greatest_duty > 0.85:
        said.append(f"The injectors reach a duty of {100.0 * summary.greatest_duty:.0f} %.")
    noise, loss = result.suction_limits(layout)
    hottest = _said(result.tank_temperature[-1], "temperature")
    if np.isfinite(noise):
        said.append(f"The pump's inlet has its NPSH up to a tank of {_said(noise, 'temperature')}")
    else:
        said.append(f"The pump's inlet has its NPSH over the whole range to {hottest}")
    said.append(
        f"and stays free of vapour up to {_said(loss, 'temperature')};"
        if np.isfinite(loss)
        else f"and stays free of vapour to {hottest};"
    )
    said.append(_rail_at_idle(result, layout, loss))
    return " ".join(said)


def _rail_at_idle(result: Comparison, layout: str, loss: float) -> str:
    """Say how far from boiling the rail stands at idle, over the tank temperatures at which the pump still pumps."""
    pumping = result.tank_temperature < loss if np.isfinite(loss) else np.ones(len(result.tank_temperature), dtype=bool)
    margin = np.asarray(result.idle[layout].vapour_margin["rail"])[pumping]
    if not margin.size:
        return "it has vapour at every tank temperature compared."
    if np.all(margin > 0.0):
        return (
            f"up to there the rail keeps at least {_said(margin.min(), 'temperature difference')} to boiling at idle."
        )
    boiling = result.limit_temperature(result.idle[layout].vapour_margin["rail"])
    return f"at idle the rail boils above a tank of {_said(boiling, 'temperature')}."
