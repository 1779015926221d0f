"""Measures: what a run is judged by, each a figure per operating point with its kind of unit.

Requirements, findings, sizing, sensitivities and reports all ask for the same measures by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.tables import PlumbedLine
from fuelsim.errors import InputError, nearest
from fuelsim.laws.link import Regime
from fuelsim.numerics.pointwise import greatest_at_each_point, least_at_each_point
from fuelsim.studies.circuits import circuits
from fuelsim.system.plumbing import PlannedLink, Plumbing
from fuelsim.system.plumbing_paths import drawn_from, regulator_groups
from fuelsim.system.pressure_rating import PressureRating
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray, FloatLike
from fuelsim.units import shown

__all__ = ["MEASURES", "MEASURES_IN_ANY_STATE", "Measure", "measure_named", "value_in_words"]

Value = FloatArray | float | None
"""A measure at each operating point; None where it does not apply."""


@dataclass(frozen=True)
class Measure:
    """One figure of a run.

    Attributes
    ----------
    name : str
        Name in requirements and tables.
    about : str
        What it is, in words.
    kind : str
        A name of `units.KINDS`.
    of : callable
        From the system and its run to an array with the shape of the conditions, or None where it does not apply.
    suffix : str
        End of the column's name, as in ``gauge``.

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").system("return")
    >>> bypass = MEASURES["bypass"].at_points(system, system.solve(rpm=[1000, 6000]))
    >>> bool(bypass[0] > bypass[1])
    True
    """

    name: str
    about: str
    kind: str
    of: Callable[[System, Run], Value]
    suffix: str = ""

    def __reduce__(self) -> tuple[Callable[[str], Measure], tuple[str]]:
        """Pickle by name, since the functions in `of` have none."""
        return measure_named, (self.name,)

    def in_words(self, value: float, units: str | None = None) -> str:
        """Return a value of this measure as a person reads it; shares in percent.

        Parameters
        ----------
        value : float
            SI.
        units : str, optional
            System of units; the preferred one, if left out.

        Returns
        -------
        str

        Examples
        --------
        >>> MEASURES["injector_duty"].in_words(0.85)
        '85 %'
        """
        return value_in_words(value, self.kind, units)

    def at_points(self, system: System, run: Run) -> FloatArray:
        """Return the measure at every operating point.

        Parameters
        ----------
        system : System
            The system that made the run.
        run : Run
            The operating points.

        Returns
        -------
        array
            SI, with the shape of the run's conditions; NaN where the measure does not apply.

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("returnless_tank")
        >>> MEASURES["return_velocity"].at_points(system, system.solve(rpm=[1000, 6000]))
        array([nan, nan])
        """
        value = self.of(system, run)
        return np.broadcast_to(np.nan if value is None else value, run.conditions.shape)


def value_in_words(value: float, kind: str, units: str | None = None, digits: int = 4) -> str:
    """Return a value as a person reads it; shares in percent.

    Parameters
    ----------
    value : float
        SI.
    kind : str
        A name of `units.KINDS`.
    units : str, optional
        System of units; the preferred one, if left out.
    digits : int
        Significant digits of what is no share.

    Returns
    -------
    str

    Examples
    --------
    >>> value_in_words(0.85, "fraction"), value_in_words(13.456, "voltage", digits=3)
    ('85 %', '13.5 V')
    """
    return f"{100.0 * value:.3g} %" if kind == "fraction" else shown(value, kind, units, digits)


def measure_named(name: str) -> Measure:
    """Return a measure by its name.

    Parameters
    ----------
    name : str
        A key of `MEASURES`.

    Returns
    -------
    Measure

    Raises
    ------
    InputError
        For an unknown name, with the nearest known one.

    Examples
    --------
    >>> measure_named("bypass").kind
    'volume flow'
    """
    if name not in MEASURES:
        raise InputError("no such measure", given=name, accepted=nearest(name, MEASURES), key="measure")
    return MEASURES[name]


def _least(mapping: Mapping[str, FloatArray], names: Iterable[str]) -> FloatArray:
    """Return the least over some stations, links or pumps at each operating point."""
    return least_at_each_point(mapping[name] for name in names)


def _greatest(mapping: Mapping[str, FloatArray], names: Iterable[str]) -> FloatArray:
    return greatest_at_each_point(mapping[name] for name in names)


def _rail(system: System, mapping: Mapping[str, FloatArray]) -> FloatArray:
    return _least(mapping, system.plumbing.rails)


def _inlets(system: System) -> list[str]:
    return [pump.upstream for pump in system.plumbing.pumps]


def _held(system: System, run: Run) -> list[FloatArray]:
    """Return the pressure of each rail above the reference of what holds it, as a multiple of the set pressure.

    Rails at which nothing holds a pressure on purpose are left out.
    """
    held: list[FloatArray] = []
    for name, rail in run.by_rail.items():
        set_pressures = system.plumbing.held_at(name).set_pressures
        if set_pressures:
            pressure, sees_manifold = set_pressures[0]
            held.append((rail.pressure_difference if sees_manifold else rail.gauge_pressure) / pressure)
    return held


def _shortfall(system: System, run: Run) -> Value:
    held = _held(system, run)
    return 1.0 - least_at_each_point(held) if held else None


def _excess(system: System, run: Run) -> Value:
    held = _held(system, run)
    return greatest_at_each_point(held) - 1.0 if held else None


def _bypass(system: System, run: Run) -> Value:
    """Return the flow through the regulators of the rails, m3/s, where several groups of them do their own: the least.

    None where no regulator spills; what a regulator of a lift circuit spills is no reserve of the rails.
    """
    groups = regulator_groups(system.plumbing)
    if len(groups) == 1 and len(groups[0]) == len(system.plumbing.regulators):
        return run.bypass_flow
    flows = [
        np.sum([np.where(run.regime[link.name] == Regime.SHUT, 0.0, run.flow[link.name]) for link in group], axis=0)
        for group in groups
    ]
    return least_at_each_point(flows) if flows else None


def _velocity(lines: Callable[[Plumbing], tuple[PlannedLink[PlumbedLine], ...]]) -> Callable[[System, Run], Value]:
    """Return a measure: the greatest velocity in some lines, m/s."""

    def of(system: System, run: Run) -> Value:
        speeds = [np.abs(run.flow[link.name]) / link.part.cross_section for link in lines(system.plumbing)]
        return greatest_at_each_point(speeds) if speeds else None

    return of


def _least_over(system: System, acting: Callable[[PressureRating], FloatLike]) -> Value:
    """Return the least working pressure over what acts on it, of what is always under pressure, Pa; None if none is."""
    margins = [
        rating.working_pressure - acting(rating)
        for rating in system.plumbing.under_pressure.values()
        if rating.always and rating.working_pressure is not None
    ]
    return reduce(np.fmin, margins) if margins else None


def _rating_over_set(system: System, run: Run) -> Value:
    boost = float(np.max(system.car.engine.boost_pressure))
    return _least_over(system, lambda rating: rating.held.held_pressure(boost))


def _rating_over_dead_head(system: System, run: Run) -> Value:
    return _least_over(system, lambda rating: rating.dead_head_to_withstand)


def _pulse_margin(system: System, run: Run) -> Value:
    injectors, rpm = system.car.injectors, np.asarray(run.conditions.rpm, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        pulse = run.injector_duty * unchecked(injectors.window)(rpm)
    return np.where(run.injector_duty > 0.0, pulse - injectors.shortest_pulse, np.nan)


def _pump_margin(system: System, run: Run) -> Value:
    bypass = _bypass(system, run)
    if bypass is None:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        return bypass / run.burnt_flow


def _depression(system: System, run: Run) -> Value:
    """Return by how much the pressure at a pump's inlet is below that of the tank or pot it draws from, Pa."""
    return greatest_at_each_point(
        run.pressure[drawn_from(system.plumbing, pump.upstream)] - run.pressure[pump.upstream]
        for pump in system.plumbing.pumps
    )


def _filter_drop(system: System, run: Run) -> Value:
    drops = [run.pressure[link.upstream] - run.pressure[link.downstream] for link in system.plumbing.filters]
    return greatest_at_each_point(drops) if drops else None


def _fuse_loading(system: System, run: Run) -> Value:
    """Return the greatest current over fuse rating of all circuits; those whose fuse is not known are left out."""
    loadings = [
        unchecked(circuit.wire.fuse_loading)(circuit.greatest_current(run))
        for circuit in circuits(system)
        if circuit.wire.fuse_rating is not None
    ]
    return greatest_at_each_point(loadings) if loadings else None


def _pump_voltage(system: System, run: Run) -> Value:
    """Return the least voltage of the pumps that run, V; NaN where none does."""
    if not system.plumbing.stages:
        return _least(run.pump_voltage, run.pump_voltage)
    return reduce(np.fmin, [np.where(run.pump_on[name], volts, np.nan) for name, volts in run.pump_voltage.items()])


def _supply_drop(system: System, run: Run) -> Value:
    voltage = _pump_voltage(system, run)
    return None if voltage is None else run.conditions.supply_voltage - voltage


_ALL = (
    Measure("rail_pressure", "rail pressure", "pressure difference", lambda s, r: _rail(s, r.gauge_pressure), "gauge"),
    Measure(
        "injector_pressure_difference",
        "rail minus manifold",
        "pressure difference",
        lambda s, r: r.injector_pressure_difference,
    ),
    Measure("rail_shortfall", "rail pressure below set, as a share of set", "fraction", _shortfall),
    Measure("rail_excess", "rail pressure above set, as a share of set", "fraction", _excess),
    Measure("bypass", "bypass through the regulator", "volume flow", _bypass),
    Measure("pump_margin", "bypass over what the engine burns", "fraction", _pump_margin),
    Measure("injector_duty", "injector duty", "fraction", lambda s, r: r.injector_duty),
    Measure("pulse_margin", "pulse beyond the injectors' shortest", "pulse time", _pulse_margin),
    Measure("pump_voltage", "voltage at the pump", "voltage", _pump_voltage),
    Measure(
        "supply_drop",
        "voltage lost before the pump",
        "voltage",
        _supply_drop,
    ),
    Measure("pump_current", "pump current", "current", lambda s, r: _greatest(r.pump_current, r.pump_current)),
    Measure("pump_power", "pump power", "electrical power", lambda s, r: sum(r.pump_power.values())),
    Measure("fuse_loading", "pump current over fuse rating", "fraction", _fuse_loading),
    Measure(
        "inlet_vapour_margin",
        "margin to boiling at the pump's inlet",
        "temperature difference",
        lambda s, r: _least(r.vapour_margin, _inlets(s)),
    ),
    Measure(
        "suction_margin",
        "margin of the pump's inlet beyond boiling and the NPSH it requires",
        "pressure difference",
        lambda s, r: r.suction_margin,
    ),
    Measure(
        "rail_vapour_margin",
        "margin to boiling in the rail",
        "temperature difference",
        lambda s, r: _rail(s, r.vapour_margin),
    ),
    Measure("suction_depression", "pump inlet below the tank", "pressure difference", _depression),
    Measure("filter_drop", "pressure lost in the filter", "pressure difference", _filter_drop),
    Measure("suction_velocity", "velocity in the suction line", "velocity", _velocity(lambda p: p.suction_lines)),
    Measure("feed_velocity", "velocity in the feed", "velocity", _velocity(lambda p: p.feed_lines)),
    Measure("return_velocity", "velocity in the return line", "velocity", _velocity(lambda p: p.return_lines)),
    Measure("rating_over_set", "least working pressure beyond set and boost", "pressure difference", _rating_over_set),
    Measure(
        "rating_over_dead_head",
        "least working pressure beyond the pump's dead-head",
        "pressure difference",
        _rating_over_dead_head,
    ),
    Measure(
        "rail_temperature", "fuel in the rail", "temperature", lambda s, r: _greatest(r.temperature, s.plumbing.rails)
    ),
    Measure("tank_heat_flow", "heat brought back to the tank", "heat flow", lambda s, r: r.tank_heat_flow),
)


def _while_it_runs(measure: Measure) -> Measure:
    """Return a measure that is NaN where the engine is stopped and the pumps are cut."""

    def of(system: System, run: Run) -> Value:
        value = measure.of(system, run)
        return None if value is None else run.while_running(np.asarray(value))

    return replace(measure, of=of)


MEASURES = {measure.name: _while_it_runs(measure) for measure in _ALL}
"""Every measure by name."""
MEASURES_IN_ANY_STATE = {measure.name: measure for measure in _ALL}
"""The same with numbers where the engine is stopped too: those of the plumbing at rest."""
