"""What drives each pump: its own wire from the one supply, its controller, and whether it is staged on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.cold_pump import COLD_BELOW, ViscosityCurve
from fuelsim.parts.pump.control import PumpControl, switched
from fuelsim.parts.pump.controlled_pump import ControlledRunningPump
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.pump.running_pump import RunningPump
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import PlannedLink, Plumbing
from fuelsim.typing import BoolArray, FloatLike, NodeArray, PointArray

__all__ = ["PumpDrive", "inlet_superheat", "pump_drive", "running_pumps", "staged_by_demand", "staged_by_pressure"]


class PumpDrive(NamedTuple):
    """What drives one pump; every array is (points,).

    Attributes
    ----------
    supply_voltage : array
        V at the battery or alternator; 0 for a pump that is switched off.
    resistance : array
        Resistance of the pump's wire and controller, ohm.
    duty : array
        Share of the time the pump is switched on.
    speed : array
        Speed of a speed-controlled pump, rpm; 0 for others.
    """

    supply_voltage: PointArray
    resistance: FloatLike
    duty: PointArray
    speed: PointArray


def pump_drive(plumbing: Plumbing, pump: PlannedLink[Pump], points: OperatingPoints) -> PumpDrive:
    """Return what drives a pump at each operating point, without its stage and without a controller of pressure.

    Parameters
    ----------
    plumbing : Plumbing
    pump : PlannedLink
        One of its pumps.
    points : OperatingPoints

    Returns
    -------
    PumpDrive

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").system("return")
    >>> [link.name for link in system.plumbing.pumps]
    ['pump']
    """
    resistance = plumbing.wires[pump.name].resistance
    if pump.table == "pump":
        return PumpDrive(
            points.supply_voltage, resistance + points.pump_resistance, points.pump_duty, points.pump_speed
        )
    speed = np.full(len(points), pump.part.bench_speed or 0.0)
    return PumpDrive(points.supply_voltage, resistance, points.asked_duty, speed)


def running_pumps(
    plumbing: Plumbing, tables: FuelTables, points: OperatingPoints, staged_on: Mapping[str, BoolArray]
) -> dict[str, RunningPump | ControlledRunningPump]:
    """Return each pump at every operating point; points with the same supply and wire share one computed curve.

    Parameters
    ----------
    plumbing : Plumbing
    tables : FuelTables
        Property tables of the fuel.
    points : OperatingPoints
    staged_on : mapping of str to bool array (points,)
        Whether each staged pump runs.

    Returns
    -------
    dict of str to RunningPump or ControlledRunningPump

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.system.conditions import Conditions
    >>> system = fs.Car.named("finch").system("return")
    >>> filled = system.filled(Conditions(rpm=[800, 5000]))
    >>> points = OperatingPoints.of(system.car, system.fuel, filled)
    >>> list(running_pumps(system.plumbing, system.fuel.tables(), points, {}))
    ['pump']
    """
    pumps: dict[str, RunningPump | ControlledRunningPump] = {}
    for link in plumbing.pumps:
        drive = pump_drive(plumbing, link, points)
        if link.name in staged_on:
            drive = drive._replace(supply_voltage=np.where(staged_on[link.name], drive.supply_voltage, 0.0))
        planned = plumbing.controls.get(link.name)
        if planned is None:
            pumps[link.name] = _running_pump(link.part, drive, tables, points.pump_wear)
        else:
            pumps[link.name] = _controlled_pump(link.part, planned.control, drive, tables, points)
    return pumps


def _viscosity(tables: FuelTables) -> ViscosityCurve:
    """Return the kinematic viscosity of the fuel of each point from the cold to 20 degC over that at 20 degC."""
    temperature = np.append(np.arange(228.15, COLD_BELOW - 1.0, 5.0), COLD_BELOW)
    knots = temperature[:, None]
    log_viscosity = np.log(np.asarray(tables.viscosity(knots)) / tables.density(knots))
    if log_viscosity.shape[1] == 1:
        log_viscosity = log_viscosity[:, 0]
    return ViscosityCurve(temperature, log_viscosity - log_viscosity[-1])


def _running_pump(pump: Pump, drive: PumpDrive, tables: FuelTables, wear: PointArray) -> RunningPump:
    # A negative wear scales the flow only, so that points which differ in it share a curve.
    leaking = np.maximum(wear, 0.0)
    density = tables.density(np.full(1, COLD_BELOW))
    kinds, which = np.unique(np.stack(np.broadcast_arrays(*drive, leaking, density)), axis=1, return_inverse=True)
    own = PumpDrive(*kinds[:-2])
    running = unchecked(pump.at)(
        supply_voltage=own.supply_voltage,
        wire_resistance=own.resistance,
        duty=own.duty,
        speed=None if pump.speed is None else own.speed,
        wear=kinds[-2],
        fuel_density=kinds[-1],
    )
    # Ratings that are lists already have one value per point.
    return replace(
        running.take(which.reshape(-1)),
        wear=wear,
        viscosity=_viscosity(tables),
        vapour_handling=pump.vapour_handling,
    )


def _controlled_pump(
    pump: Pump, control: PumpControl, drive: PumpDrive, tables: FuelTables, points: OperatingPoints
) -> ControlledRunningPump:
    by_speed = pump.speed is not None
    slowest, fastest = (
        _running_pump(
            pump,
            drive._replace(speed=drive.speed * share) if by_speed else drive._replace(duty=drive.duty * share),
            tables,
            points.pump_wear,
        )
        for share in (control.least_share, control.most_share)
    )
    base = {"manifold": points.manifold_pressure, "atmosphere": points.atmospheric_pressure, "inlet": None}
    return ControlledRunningPump(fastest, slowest, control.set_pressure, control.droop, base[control.reference])


def staged_by_demand(plumbing: Plumbing, tables: FuelTables, points: OperatingPoints) -> dict[str, BoolArray]:
    """Return whether each staged pump runs as far as demand, manifold and what was before decide.

    Parameters
    ----------
    plumbing, tables, points
        As `running_pumps`.

    Returns
    -------
    dict of str to bool array (points,)
        A pump staged by pressure is as it was before.
    """
    states: dict[str, BoolArray] = {}
    for name, (stage, _) in plumbing.stages.items():
        before = np.array(points.staged_before)
        if stage.measure == "demand":
            states[name] = switched(stage, points.fuel_mass_flow / tables.density(points.tank_temperature), before)
        elif stage.measure == "manifold_pressure":
            states[name] = switched(stage, points.manifold_pressure, before)
        else:
            states[name] = before
    return states


def staged_by_pressure(
    plumbing: Plumbing,
    points: OperatingPoints,
    pressure: Mapping[str, PointArray],
    states: Mapping[str, BoolArray],
) -> dict[str, BoolArray]:
    """Return whether each pump staged by pressure would run at the pressures that were solved.

    Parameters
    ----------
    plumbing : Plumbing
    points : OperatingPoints
    pressure : mapping of str to array (points,)
        By station, Pa absolute; not a number where the point failed, which counts as too low a pressure.
    states : mapping of str to bool array (points,)
        Whether each staged pump ran.

    Returns
    -------
    dict of str to bool array (points,)
    """
    after = dict(states)
    for name, (stage, sensor) in plumbing.stages.items():
        if stage.measure == "pressure":
            gauge = np.nan_to_num(pressure[sensor] - points.atmospheric_pressure, nan=-np.inf)
            after[name] = switched(stage, gauge, states[name])
    return after


def inlet_superheat(plumbing: Plumbing) -> NodeArray:
    """Return by how much fuel stays liquid above its bubble point at each station: at the inlets of pumps only.

    Parameters
    ----------
    plumbing : Plumbing

    Returns
    -------
    array (stations, 1 or points)
        K; of pumps that share an inlet the least.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"pump.inlet_superheat": ["0 K", "3 K"]})
    >>> plumbing = car.system("return").plumbing
    >>> inlet = plumbing.stations.index(plumbing.pumps[0].upstream)
    >>> inlet_superheat(plumbing)[inlet].tolist()
    [0.0, 3.0]
    """
    given: dict[str, FloatLike] = {}
    for link in plumbing.pumps:
        given[link.upstream] = np.minimum(link.part.inlet_superheat, given.get(link.upstream, np.inf))
    rows = np.broadcast_arrays(*(np.atleast_1d(given.get(station, 0.0)) for station in plumbing.stations))
    return np.stack(rows)
