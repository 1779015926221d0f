"""Measures: what a run is judged by, each a figure per operating point with its kind of unit.

Requirements, sizing, sensitivities and reports all ask for the same measures by name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.car.car import Car
from fuelsim.car.tables import PlacedRegulator
from fuelsim.errors import InputError, nearest
from fuelsim.system.run import Run

__all__ = ["MEASURES", "Measure", "measure_named", "regulator_of"]

REGULATORS = {"return": "rail_regulator", "returnless_tank": "tank_regulator", "returnless_bay": "bay_regulator"}
"""Which regulator works in which layout."""


@dataclass(frozen=True)
class Measure:
    """One figure of a run.

    Attributes
    ----------
    name, about : str
        As in requirements and tables; in words.
    kind : str
        A name of `units.KINDS`.
    of : callable
        From the car and its run to an array with the shape of the conditions, or None where it does not apply.
    suffix : str
        Ends the column's name, as in ``gauge``.
    """

    name: str
    about: str
    kind: str
    of: Callable[[Car, Run], Any]
    suffix: str = ""


def regulator_of(car: Car, layout: str) -> PlacedRegulator:
    """Return the regulator that works in a layout."""
    regulator = getattr(car, REGULATORS[layout])
    assert isinstance(regulator, PlacedRegulator)
    return regulator


def measure_named(name: str) -> Measure:
    """Return a measure, or raise with the nearest known name.

    Examples
    --------
    >>> measure_named("bypass").kind
    'volume flow'
    """
    if name not in MEASURES:
        raise InputError("no such measure", given=name, accepted=nearest(name, MEASURES), key="measure")
    return MEASURES[name]


def _held(car: Car, run: Run) -> Any:
    """Rail over what the regulator refers to, over its set pressure."""
    regulator = regulator_of(car, run.layout)
    if regulator.reference == "manifold":
        return run.injector_pressure_difference / regulator.set_pressure
    return run.gauge_pressure["rail"] / regulator.set_pressure


def _velocity(line: str) -> Callable[[Car, Run], Any]:
    def of(car: Car, run: Run) -> Any:
        part = getattr(car, line)
        if part is None or line not in run.flow:
            return None
        return np.abs(run.flow[line]) / (0.25 * np.pi * part.bore**2)

    return of


def _least_rating(car: Car) -> Any:
    """Return the least working pressure given for what stands before the regulator, Pa; NaN if none is."""
    parts = (car.filter, car.feed, car.bay_line)
    given = [part.working_pressure for part in parts if part is not None and part.working_pressure is not None]
    least = np.nan
    for rating in given:
        least = np.fmin(least, rating)
    return least


def _rating_over_set(car: Car, run: Run) -> Any:
    boost = float(np.max(car.engine.boost_pressure))
    regulator = regulator_of(car, run.layout)
    reached = regulator.set_pressure + (boost if regulator.reference == "manifold" else 0.0)
    return _where_given(_least_rating(car) - reached)


def _rating_over_dead_head(car: Car, run: Run) -> Any:
    return _where_given(_least_rating(car) - car.pump.dead_head_pressure)


def _where_given(value: Any) -> Any:
    return None if np.all(np.isnan(value)) else value


def _pulse_margin(car: Car, run: Run) -> Any:
    rpm = np.asarray(run.conditions.rpm, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        pulse = run.injector_duty * car.injectors.window(rpm)
    return np.where(run.injector_duty > 0.0, pulse - car.injectors.shortest_pulse, np.nan)


def _pump_margin(car: Car, run: Run) -> Any:
    with np.errstate(divide="ignore", invalid="ignore"):
        return run.bypass_flow / run.flow["injectors"]


def _depression(car: Car, run: Run) -> Any:
    return -run.gauge_pressure["pump_inlet"]


def _filter_drop(car: Car, run: Run) -> Any:
    return run.pressure["pump_outlet"] - run.pressure["filter_outlet"]


def _fuse_loading(car: Car, run: Run) -> Any:
    return None if car.wire.fuse_rating is None else car.wire.fuse_loading(run.pump_current["pump"])


_ALL = (
    Measure("rail_pressure", "rail pressure", "pressure difference", lambda c, r: r.gauge_pressure["rail"], "gauge"),
    Measure(
        "injector_pressure_difference",
        "rail minus manifold",
        "pressure difference",
        lambda c, r: r.injector_pressure_difference,
    ),
    Measure("rail_shortfall", "rail pressure below set, as a share of set", "fraction", lambda c, r: 1.0 - _held(c, r)),
    Measure("rail_excess", "rail pressure above set, as a share of set", "fraction", lambda c, r: _held(c, r) - 1.0),
    Measure("bypass", "bypass through the regulator", "volume flow", lambda c, r: r.bypass_flow),
    Measure("pump_margin", "bypass over what the engine burns", "fraction", _pump_margin),
    Measure("injector_duty", "injector duty", "fraction", lambda c, r: r.injector_duty),
    Measure("pulse_margin", "pulse beyond the injectors' shortest", "pulse time", _pulse_margin),
    Measure("pump_voltage", "voltage at the pump", "voltage", lambda c, r: r.pump_voltage["pump"]),
    Measure(
        "supply_drop",
        "voltage lost before the pump",
        "voltage",
        lambda c, r: r.conditions.supply_voltage - r.pump_voltage["pump"],
    ),
    Measure("pump_current", "pump current", "current", lambda c, r: r.pump_current["pump"]),
    Measure("pump_power", "pump power", "electrical power", lambda c, r: r.pump_power["pump"]),
    Measure("fuse_loading", "pump current over fuse rating", "fraction", _fuse_loading),
    Measure(
        "inlet_vapour_margin",
        "pump inlet to boiling",
        "temperature difference",
        lambda c, r: r.vapour_margin["pump_inlet"],
    ),
    Measure(
        "suction_margin",
        "pump inlet beyond boiling and the NPSH it requires",
        "pressure difference",
        lambda c, r: r.suction_margin,
    ),
    Measure("rail_vapour_margin", "rail to boiling", "temperature difference", lambda c, r: r.vapour_margin["rail"]),
    Measure("suction_depression", "pump inlet below the atmosphere", "pressure difference", _depression),
    Measure("filter_drop", "pressure lost in the filter", "pressure difference", _filter_drop),
    Measure("suction_velocity", "velocity in the suction line", "velocity", _velocity("suction")),
    Measure("feed_velocity", "velocity in the feed", "velocity", _velocity("feed")),
    Measure("return_velocity", "velocity in the return line", "velocity", _velocity("return_line")),
    Measure("rating_over_set", "least working pressure beyond set and boost", "pressure difference", _rating_over_set),
    Measure(
        "rating_over_dead_head",
        "least working pressure beyond the pump's dead-head",
        "pressure difference",
        _rating_over_dead_head,
    ),
    Measure("rail_temperature", "fuel in the rail", "temperature", lambda c, r: r.temperature["rail"]),
    Measure("tank_heat_flow", "heat brought back to the tank", "heat flow", lambda c, r: r.tank_heat_flow),
)
MEASURES = {measure.name: measure for measure in _ALL}
"""Every measure by name."""
