"""Compare layouts and variants of a car over the rev range and over the temperature of the tank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.interruption import run_steps
from fuelsim.studies.comparison import Comparison
from fuelsim.studies.uncertainty import Uncertainty
from fuelsim.studies.uncertainty_asked import SAMPLES, samples_asked, say_cost, uncertainty_of
from fuelsim.studies.vary import Changes
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray, Given, UncertaintyAsked

__all__ = ["compare"]

DEFAULT_TANK_TEMPERATURES = tuple(celsius + ZERO_CELSIUS for celsius in (20.0, 30.0, 40.0, 45.0, 50.0, 55.0, 60.0))
DEFAULT_SPEEDS = 25


class _Points(NamedTuple):
    """Operating points on which every system is run, as `Comparison` describes its runs."""

    full_load: Conditions
    idle: Conditions
    at_car: Conditions


class _Runs(NamedTuple):
    """Runs of one system on `_Points`, and samples of it at those of the car, where they are asked for."""

    full_load: Run
    idle: Run
    at_car: Run
    samples: Uncertainty | None


@takes()
def compare(
    car: Car,
    layouts: Sequence[str] | None = None,
    *,
    variants: Mapping[str, Changes | Car] | None = None,
    rpm: Given | None = None,
    tank_temperature: Given | None = None,
    air_temperature: Given | None = None,
    altitude: Given | None = None,
    supply_voltage: Given | None = None,
    uncertainty: UncertaintyAsked = False,
    progress: bool | None = None,
) -> Comparison:
    """Compare layouts, variants or cars on the outer product of engine speeds and tank temperatures.

    Parameters
    ----------
    car : Car
        The car.
    layouts : sequence of str, optional
        Names of layouts; left out, all the car has the parts for.
    variants : mapping, optional
        Name to changes of the car, such as `vary` makes, or to another car; each is run in each layout on the same
        conditions.
    rpm : list of float or str, optional
        Engine speeds at full load, rpm; left out, 25 from idle to red line.
    tank_temperature : list of float or str, optional
        Temperatures of the tank, K; left out, 20 to 60 degC.
    air_temperature : float or str, optional
        Temperature of the ambient air, K; left out, the car's own.
    altitude : float or str, optional
        Altitude above sea level, m; left out, the car's own.
    supply_voltage : float or str, optional
        Voltage of battery or alternator, V; left out, the car's own.
    uncertainty : bool, int or mapping, optional
        Whether samples of what is not known about the car are run too, at idle and full load at its own tank
        temperature: True for 512 of `uncertain_inputs`, another number (8 times a power of two), or inputs as
        `uncertainty` takes them. Table, figure and report then show bands, and how often requirements are met.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only. Ctrl-C ends the study with what is finished.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        For an unknown layout or variant, wrong conditions, or a number of samples that does not suit.
    KeyboardInterrupt
        After Ctrl-C before the first system is finished.

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
    chosen = _layouts(car, layouts)
    around = {"air_temperature": air_temperature, "altitude": altitude, "supply_voltage": supply_voltage}
    points = _points(car, rpm, tank_temperature, {name: value for name, value in around.items() if value is not None})
    systems = _systems(car, chosen, variants)
    samples_asked(uncertainty, SAMPLES)
    say_cost(uncertainty, [points.at_car] * len(systems), progress)

    def solved(system: System) -> _Runs:
        full_load, idle, at_car = (system.solve(conditions) for conditions in points)
        return _Runs(full_load, idle, at_car, uncertainty_of(system, uncertainty, points.at_car))

    runs, completion = run_steps(
        list(systems.values()),
        solved,
        doing="comparing",
        of="layouts" if variants is None else "systems",
        progress=progress,
    )
    if not runs:
        raise KeyboardInterrupt
    finished = dict(zip(systems, runs, strict=False))
    return Comparison(
        car=car,
        systems={name: systems[name] for name in finished},
        full_load={name: run.full_load for name, run in finished.items()},
        idle={name: run.idle for name, run in finished.items()},
        at_car={name: run.at_car for name, run in finished.items()},
        rpm=points.full_load.rpm.reshape(-1),
        tank_temperature=points.full_load.tank_temperature.reshape(-1),
        samples={name: run.samples for name, run in finished.items() if run.samples is not None},
        completion=completion,
    )


def _layouts(car: Car, layouts: Sequence[str] | None) -> list[str]:
    """Return the names of the layouts to compare."""
    known = car.layouts()
    if layouts is None:
        if not known:
            raise InputError(
                "the car has no regulator for any layout",
                accepted="a table [rail_regulator], [tank_regulator] or [bay_regulator]",
                file=car.file,
            )
        return known
    chosen = [layouts] if isinstance(layouts, str) else list(layouts)
    if not chosen:
        raise InputError("no layout to compare", accepted=", ".join(known), part="compare", key="layouts")
    return chosen


def _points(car: Car, rpm: Given | None, tank_temperature: Given | None, around: Mapping[str, Given]) -> _Points:
    """Return the operating points on which every system is run."""
    idle_speed = car.engine.idle_speed
    if rpm is None:
        rpm = np.linspace(idle_speed, car.engine.red_line, DEFAULT_SPEEDS)
    if tank_temperature is None:
        tank_temperature = DEFAULT_TANK_TEMPERATURES
    grid = Conditions.grid(
        rpm=_listed(rpm, "engine speed"), tank_temperature=_listed(tank_temperature, "temperature"), **around
    )
    speeds, temperatures = grid.rpm.reshape(-1), grid.tank_temperature.reshape(-1)
    load = np.concatenate([[0.0], np.ones(len(speeds))])
    return _Points(
        full_load=grid,
        idle=Conditions.grid(rpm=idle_speed, load=0.0, tank_temperature=temperatures, **around),
        at_car=Conditions(rpm=np.concatenate([[idle_speed], speeds]), load=load).with_values(around),
    )


def _systems(car: Car, layouts: Sequence[str], variants: Mapping[str, Changes | Car] | None) -> dict[str, System]:
    """Return what is to be compared by name; nothing is solved yet, so that a wrong input costs no time."""
    if variants is None:
        return {layout: car.system(layout) for layout in layouts}
    if not variants:
        raise InputError("no variants", accepted="a mapping of names to changes, as vary makes", key="variants")
    systems: dict[str, System] = {}
    for name, changes in variants.items():
        variant = changes if isinstance(changes, Car) else car.with_values(changes)
        for layout in layouts:
            systems[name if len(layouts) == 1 else f"{layout}, {name}"] = variant.system(layout)
    return systems


def _listed(value: Given, kind: str) -> FloatArray:
    return np.atleast_1d(units.convert(value, kind))
