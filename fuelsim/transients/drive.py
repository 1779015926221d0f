"""A drive: how tank and fuel warm up over hours, and when the margins to boiling are gone.

The plumbing settles within seconds, the tank within hours: so the tank's balances of heat, fuel, air and vapour are
integrated over time while the plumbing is in its steady state at every moment. That state is interpolated in a table
of networks solved beforehand (`fuelsim.transients.plumbing_table`); along the trajectory the networks are solved once
more, exactly, which gives the results shown and the error of the table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import units
from fuelsim.car.tables import plain_table
from fuelsim.constants import GAS_CONSTANT
from fuelsim.network.state import ByName
from fuelsim.system.run import System
from fuelsim.transients.drive_results import Drive, HeatLedger
from fuelsim.transients.events import Signals, find_events
from fuelsim.transients.plumbing_table import PlumbingTable, join_stages, locked_points, tabulate_plumbing
from fuelsim.transients.schedule import Schedule
from fuelsim.transients.stagnant_rail import engine_metal_temperature, rail_heat_capacity, stagnant_rail_temperature
from fuelsim.transients.tank import vapour_space
from fuelsim.transients.tank_equations import TankEquations, Trajectory
from fuelsim.transients.tank_fuel import WEATHERED, WEATHERING_TEMPERATURE, tank_fuel
from fuelsim.transients.world import DrivingState, World
from fuelsim.typing import ArrayLike, BoolArray, Given, IndexArray, PointArray

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.car.climate import Climate

__all__ = ["Drive", "HeatLedger", "drive"]

WORTH_WEATHERING = 3e-3
"""Mass fraction evaporated from which the plumbing is solved with the weathered fuel too."""
LEAST_RAIL_PRESSURE = 1e4
"""Rail pressure below which the error of the table is a share of this pressure, Pa."""


def drive(
    car: Car,
    layout: str,
    schedule: Schedule,
    *,
    climate: Climate | None = None,
    tank_temperature: Given | None = None,
    output_step: Given = 60.0,
) -> Drive:
    """Run a car through a schedule.

    Parameters
    ----------
    car : Car
        With `car.tank.vent`, `car.surge_pot` and `car.tank.pick_up_return_share` as it is built.
    layout : str
        One of the car's own layouts.
    schedule : Schedule
        The phases of the drive.
    climate : Climate, optional
        Weather of the day, such as ``hot_day("phoenix")``; the car's own air temperature all day if left out.
    tank_temperature : float or str, optional
        Temperature of the fuel at the start, K; that of the air if left out.
    output_step : float or str
        Time between the states shown, s.

    Returns
    -------
    Drive

    Raises
    ------
    InputError
        For an unknown layout, or a start above the fuel's boiling point.
    SolveError
        If the integration fails.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.transients.schedule import typical_phase
    >>> car = fs.Car.named("finch")
    >>> jam = Schedule.of([typical_phase("jam", "1 h", car)])
    >>> traffic = drive(car, "return", jam, tank_temperature="32 degC")
    >>> bool(5.0 < traffic.tank_rise < 15.0), bool(traffic.ledger.error < 1e-3)
    (True, True)
    """
    world = World(car, schedule, climate)
    fuel = tank_fuel(car.fuel.fuel())
    equations = TankEquations(car, world, fuel)
    start, step = equations.start(tank_temperature), float(units.convert(output_step, "time"))
    stages = [_Stage(System(car, layout), 0.0)]
    tables = tabulate_plumbing(stages[0].system, 0.0, fuel, world, equations.pressure_grid())
    trajectory = equations.integrate(start, tables, step)
    lost = float(np.max(trajectory.states.evaporated))
    if lost > WORTH_WEATHERING:
        evaporated = float(np.ceil(min(1.05 * lost, WEATHERED[-1]) * 100.0) / 100.0)
        weathered = System(car, layout, fuel.fuel.weathered(evaporated, WEATHERING_TEMPERATURE))
        stages.append(_Stage(weathered, evaporated))
        tables = join_stages(tables, tabulate_plumbing(weathered, evaporated, fuel, world, equations.pressure_grid()))
        trajectory = equations.integrate(start, tables, step)
    return _Collection(equations, stages, tables, trajectory).drive()


@dataclass(frozen=True)
class _Stage:
    """The plumbing with the fuel of which a mass fraction has evaporated."""

    system: System
    evaporated: float


@dataclass(frozen=True)
class _Plumbing:
    """The plumbing solved along the trajectory, by the names of `Drive`."""

    temperature: ByName[PointArray]
    gauge_pressure: ByName[PointArray]
    vapour_margin: ByName[PointArray]
    pressure_margin: ByName[PointArray]
    vapour_liquid_ratio: ByName[PointArray]
    flow: ByName[PointArray]
    suction_margin: PointArray
    bypass_flow: PointArray
    injector_duty: PointArray
    tank_heat_flow: PointArray
    pump_power: PointArray
    vapour_lock: BoolArray


@dataclass(frozen=True)
class _Collection:
    """What the results of a drive are collected from: the equations, the plumbing, its tables, and the trajectory."""

    equations: TankEquations
    stages: list[_Stage]
    tables: list[PlumbingTable | None]
    trajectory: Trajectory

    @cached_property
    def running(self) -> BoolArray:
        """Whether the engine runs."""
        phases = self.equations.world.schedule.phases
        return np.array([phases[index].engine == "running" for index in self.trajectory.phase])

    @cached_property
    def world(self) -> DrivingState:
        """The world at every time of the trajectory."""
        trajectory, world = self.trajectory, self.equations.world
        return DrivingState.joined(
            [world.at(int(i), trajectory.within[trajectory.phase == i]) for i in np.unique(trajectory.phase)]
        )

    @cached_property
    def supply_temperature(self) -> PointArray:
        """Temperature of the fuel that the plumbing draws, K."""
        states = self.trajectory.states
        return states.supply_temperature if self.equations.supply_mass else states.temperature

    @cached_property
    def tank_pressure(self) -> PointArray:
        """Pressure in the vapour space, Pa absolute."""
        fuel, volume, states = self.equations.fuel, self.equations.car.tank.volume, self.trajectory.states
        points = zip(states.air, states.temperature, states.liquid, states.evaporated, strict=True)
        return np.array(
            [
                air * GAS_CONSTANT * t / vapour_space(fuel, volume, t, liquid) + fuel.bubble_pressure(t, w).pressure
                for air, t, liquid, w in points
            ]
        )

    @property
    def tank_gauge_pressure(self) -> PointArray:
        """Pressure of the vapour space above the atmosphere, Pa."""
        return self.tank_pressure - self.world.atmospheric_pressure

    @cached_property
    def supply_gauge_pressure(self) -> PointArray:
        """Pressure of the vapour space above the atmosphere with the head of the fuel's level, Pa."""
        states = self.trajectory.states
        points = zip(states.temperature.tolist(), states.liquid.tolist(), strict=True)
        head = np.array([self.equations.head(temperature, liquid) for temperature, liquid in points])
        gauge: PointArray = self.tank_gauge_pressure + head
        return gauge

    def drive(self) -> Drive:
        """Solve the networks along the trajectory and collect everything."""
        trajectory, equations = self.trajectory, self.equations
        states, car, phases = trajectory.states, equations.car, equations.world.schedule.phases
        boiling = equations.fuel.boiling_temperatures(self.tank_pressure, states.evaporated)
        plumbing = self._solved_along()
        fuel_mass = states.liquid + equations.supply_mass
        signals = Signals(
            time=trajectory.time,
            suction_margin=plumbing.suction_margin,
            pump_margin=plumbing.vapour_margin["pump_inlet"],
            rail_margin=plumbing.vapour_margin["rail"],
            tank_temperature=states.temperature,
            boiling_temperature=boiling,
            vapour_lock=plumbing.vapour_lock,
            fuel_mass=fuel_mass,
            npsh_required=float(plain_table(car.pump, "pump").npsh_required),
        )
        return Drive(
            layout=self.stages[0].system.layout,
            time=trajectory.time,
            phase=np.array([phases[index].name for index in trajectory.phase], dtype=object),
            running=self.running,
            air_temperature=self.world.air_temperature,
            bay_temperature=self.world.bay_temperature,
            underfloor_temperature=self.world.underfloor_temperature,
            altitude=self.world.altitude,
            tank_temperature=states.temperature,
            supply_temperature=self.supply_temperature,
            boiling_temperature=boiling,
            tank_gauge_pressure=self.tank_gauge_pressure,
            fuel_mass=fuel_mass,
            vapour_lost=states.vented,
            evaporated=states.evaporated,
            events=find_events(signals),
            ledger=self._ledger(),
            mass_error=self._mass_error(),
            interpolation_error=self._interpolation_error(plumbing),
            **vars(plumbing),
        )

    def _ledger(self) -> HeatLedger:
        first, last = self.trajectory.state(0), self.trajectory.state(-1)
        return HeatLedger(
            wall=last.wall - first.wall,
            returned=last.returned - first.returned,
            radiated=last.radiated - first.radiated,
            lift=last.lift - first.lift,
            evaporation=last.evaporation - first.evaporation,
            carried=last.carried - first.carried,
            stored=self.equations.enthalpy(last) - self.equations.enthalpy(first),
        )

    def _mass_error(self) -> float:
        """Return the fuel unaccounted for, as a share of the fuel at the start."""
        first, last = self.trajectory.state(0), self.trajectory.state(-1)
        gained = (last.liquid - first.liquid) + (last.vapour - first.vapour)
        gained += (last.vented - first.vented) + (last.burnt - first.burnt)
        return abs(gained) / first.liquid

    def _interpolation_error(self, plumbing: _Plumbing) -> float:
        """Return the largest relative error of the rail pressure in the table, away from vapour lock."""
        trajectory = self.trajectory
        interpolated = np.full(trajectory.time.shape, np.nan)
        near_lock = np.zeros(trajectory.time.shape)
        for point in np.flatnonzero(self.running):
            table = self.tables[trajectory.phase[point]]
            if table is not None:
                state = table.at(
                    float(trajectory.within[point]),
                    float(self.supply_temperature[point]),
                    float(self.supply_gauge_pressure[point]),
                    float(trajectory.states.evaporated[point]),
                )
                interpolated[point], near_lock[point] = state.rail_gauge_pressure, state.vapour_lock
        rail = np.asarray(plumbing.gauge_pressure["rail"])
        error = np.abs(interpolated - rail) / np.maximum(np.abs(rail), LEAST_RAIL_PRESSURE)
        judged = self.running & ~plumbing.vapour_lock & (near_lock == 0.0) & np.isfinite(error)
        return float(np.max(error[judged], initial=0.0))

    def _solved_along(self) -> _Plumbing:
        """Solve with each fuel where it is as far below boiling as the fuel in the tank is, and mix the results.

        At equal distance to boiling the two fuels behave alike; at equal temperature one may boil and the other not.
        """
        running = self.running
        points = np.flatnonzero(running) if np.any(running) else np.array([0])
        fuel, evaporated = self.equations.fuel, self.trajectory.states.evaporated[points]
        pressure, gauge = self.tank_pressure[points], self.supply_gauge_pressure[points]
        boils = fuel.boiling_temperatures(pressure, evaporated)
        world, supply = self.world.take(points), self.supply_temperature[points]
        runs, shifts = [], []
        for stage in self.stages:
            shifts.append(fuel.boiling_temperatures(pressure, stage.evaporated) - boils)
            runs.append(stage.system.solve(world.conditions(supply + shifts[-1], gauge)))
        locks = [locked_points(run) for run in runs]
        weathering = np.zeros(points.shape)
        if len(runs) > 1:
            weathering = np.clip(evaporated / self.stages[-1].evaporated, 0.0, 1.0)
        # Between a state that is locked and one that is not there is none: take the nearer one.
        weathering = np.where(locks[0] == locks[-1], weathering, np.round(weathering))
        lock = np.zeros(running.shape, dtype=bool)
        lock[points] = running[points] & np.where(weathering < 0.5, locks[0], locks[-1])
        mixture = _Mixture(weathering, points, running)
        shift = mixture.values(shifts)
        temperatures = mixture.columns([run.temperature for run in runs])
        temperatures = {name: values - shift for name, values in temperatures.items()}
        temperatures["rail"] = self._with_soaks(temperatures["rail"])
        return _Plumbing(
            temperature=ByName("station", list(temperatures), list(temperatures.values()).__getitem__),
            gauge_pressure=mixture.by_name("station", [run.gauge_pressure for run in runs]),
            vapour_margin=mixture.by_name("station", [run.vapour_margin for run in runs]),
            pressure_margin=mixture.by_name("station", [run.pressure_margin for run in runs]),
            vapour_liquid_ratio=mixture.by_name("station", [run.vapour_liquid_ratio for run in runs]),
            flow=mixture.by_name("link", [run.flow for run in runs]),
            suction_margin=mixture.values([run.suction_margin for run in runs]),
            bypass_flow=mixture.values([run.bypass_flow for run in runs]),
            injector_duty=mixture.values([run.injector_duty for run in runs]),
            tank_heat_flow=mixture.values([run.tank_heat_flow for run in runs]),
            pump_power=mixture.values([np.sum(list(run.pump_power.values()), axis=0) for run in runs]),
            vapour_lock=lock,
        )

    def _with_soaks(self, rail: PointArray) -> PointArray:
        """Return the rail's temperature with the stops filled in: it follows bay and engine while nothing flows."""
        car, time, world = self.equations.car, self.trajectory.time, self.world
        filled = np.array(rail)
        capacity = rail_heat_capacity(car, self.stages[0].system.fuel)
        stopped_at = 0.0
        for point in np.flatnonzero(~self.running):
            if point == 0:
                filled[0] = world.air_temperature[0]
                continue
            if self.running[point - 1]:
                stopped_at = time[point - 1]
            filled[point] = stagnant_rail_temperature(
                car,
                filled[point - 1],
                time[point] - time[point - 1],
                world.bay_temperature[point],
                engine_metal_temperature(car, world.air_temperature[point], time[point] - stopped_at),
                capacity,
            )
        return filled


@dataclass(frozen=True)
class _Mixture:
    """Mixes the results of two runs, of the fresh and of the weathered fuel, and puts them on the whole time axis.

    Attributes
    ----------
    weathering : array (points,)
        Share of the second run; without effect where there is one run only.
    points : int array (points,)
        Times for which the networks were solved.
    running : bool array (times,)
        Whether the engine runs; results are NaN elsewhere.
    """

    weathering: PointArray
    points: IndexArray
    running: BoolArray

    def values(self, of_runs: Sequence[ArrayLike]) -> PointArray:
        """Return one result of each run as one array (times,).

        Parameters
        ----------
        of_runs : sequence of array (points,)
            The result, for the fresh fuel and, if there are two runs, for the weathered one.
        """
        value = np.asarray(of_runs[0], dtype=float)
        if len(of_runs) > 1:
            value = value + self.weathering * (np.asarray(of_runs[1], dtype=float) - value)
        at_all_times = np.full(self.running.shape, np.nan)
        at_all_times[self.points] = np.where(self.running[self.points], value, np.nan)
        return at_all_times

    def columns(self, of_runs: Sequence[Mapping[str, PointArray]]) -> dict[str, PointArray]:
        """Return results by name of each run as one array (times,) per name.

        Parameters
        ----------
        of_runs : sequence of mapping of str to array (points,)
            The results of each run, with equal names.
        """
        return {name: self.values([results[name] for results in of_runs]) for name in of_runs[0]}

    def by_name(self, what: str, of_runs: Sequence[Mapping[str, PointArray]]) -> ByName[PointArray]:
        """Return `columns` as a mapping whose errors name the nearest station or link.

        Parameters
        ----------
        what : str
            ``"station"`` or ``"link"``, for messages.
        of_runs : sequence of mapping of str to array (points,)
            The results of each run, with equal names.
        """
        columns = self.columns(of_runs)
        return ByName(what, list(columns), list(columns.values()).__getitem__)
