"""Which pumps are controlled or staged, and at which station each takes its pressure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from fuelsim.car.car import Car
from fuelsim.car.heat_parts import Pot
from fuelsim.car.layouts import VESSEL
from fuelsim.errors import InputError, nearest
from fuelsim.parts.part import Part
from fuelsim.parts.pump.control import OUTLET_SENSOR, PumpControl, PumpStage
from fuelsim.system.plumbing import PlannedControl, PlannedLink, PlannedStage

__all__ = ["planned_stages", "pump_control", "with_sensors"]


def pump_control(car: Car, pump: str) -> PumpControl | None:
    """Return the controller that holds a pressure by a pump; None without one.

    Parameters
    ----------
    car : Car
    pump : str
        Name of the pump's table.

    Returns
    -------
    PumpControl or None

    Examples
    --------
    >>> pump_control(Car.named("finch"), "pump") is None
    True
    """
    own: PumpControl | None = car.pump_controls.get(pump)
    return car.pump_control if own is None and pump == "pump" else own


def _first_rail(
    car: Car, pump: PlannedLink[Part], links: Iterable[PlannedLink[Part]], rails: Sequence[str]
) -> str | None:
    """Return the first rail downstream of a pump; None where it feeds none, as where it fills a pot."""
    reached = [pump.downstream]
    for station in reached:
        if station in rails:
            return station
        if station != VESSEL and not isinstance(car.part(station), Pot):
            reached += [
                link.downstream for link in links if link.upstream == station and link.downstream not in reached
            ]
    return None


def _sensor(
    car: Car,
    pump: PlannedLink[Part],
    by: PumpControl | PumpStage,
    key: str,
    links: Iterable[PlannedLink[Part]],
    rails: Sequence[str],
) -> str:
    """Return the station at which a controller or stage takes its pressure."""
    if by.sensor == OUTLET_SENSOR:
        return pump.downstream
    if by.sensor is None:
        first = _first_rail(car, pump, links, rails)
        if first is None:
            raise InputError(
                f"no rail downstream of '{pump.name}'",
                accepted=f"sensor = '{OUTLET_SENSOR}', or the name of a rail",
                key=f"{key}.sensor",
                file=car.file,
            )
        return first
    if by.sensor not in rails:
        raise InputError(
            "no such rail in this plumbing",
            given=by.sensor,
            accepted=nearest(by.sensor, [*rails, OUTLET_SENSOR]),
            key=f"{key}.sensor",
            file=car.file,
        )
    return by.sensor


def with_sensors(
    car: Car, links: Sequence[PlannedLink[Part]], pump_names: dict[str, str], rails: Sequence[str]
) -> tuple[list[PlannedLink[Part]], dict[str, PlannedControl]]:
    """Return the links with the sensors of controlled pumps as references, and the controllers by the pump's link.

    Parameters
    ----------
    car : Car
    links : sequence of PlannedLink
    pump_names : dict of str to str
        Name of the table of each pump, by its link.
    rails : sequence of str
        Stations at which rail pressure is read.

    Returns
    -------
    links : list of PlannedLink
    controls : dict of str to PlannedControl

    Raises
    ------
    InputError
        For a sensor that is no rail of this plumbing.

    Examples
    --------
    >>> with_sensors(Car.named("finch"), [], {}, [])
    ([], {})
    """
    changed: list[PlannedLink[Part]] = []
    controls: dict[str, PlannedControl] = {}
    for link in links:
        name = pump_names.get(link.name)
        control = None if name is None else pump_control(car, name)
        if control is not None:
            key = f"pump_controls.{name}" if name in car.pump_controls else "pump_control"
            controls[link.name] = PlannedControl(control, key)
            link = replace(link, reference=_sensor(car, link, control, key, links, rails))
        changed.append(link)
    return changed, controls


def planned_stages(
    car: Car, links: Sequence[PlannedLink[Part]], pump_names: dict[str, str], rails: Sequence[str]
) -> dict[str, PlannedStage]:
    """Return the stages by the pump's link.

    Parameters
    ----------
    car, links, pump_names, rails
        As `with_sensors`.

    Returns
    -------
    dict of str to PlannedStage

    Raises
    ------
    InputError
        For a sensor that is no rail of this plumbing.

    Examples
    --------
    >>> planned_stages(Car.named("finch"), [], {}, [])
    {}
    """
    stages: dict[str, PlannedStage] = {}
    for link in links:
        name = pump_names.get(link.name)
        stage = None if name is None else car.pump_stages.get(name)
        if stage is None:
            continue
        by_pressure = stage.measure == "pressure"
        sensor = _sensor(car, link, stage, f"pump_stages.{name}", links, rails) if by_pressure else ""
        stages[link.name] = PlannedStage(stage, sensor)
    return stages
