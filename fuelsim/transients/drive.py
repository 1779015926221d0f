"""A drive: how tank and fuel warm up over hours, and when the margins to boiling are gone.

The plumbing settles within seconds, the tank within hours: so the tank's balances of heat, fuel, air and vapour are
integrated over time while the plumbing is in its steady state at every moment. That state is interpolated in a table
of networks solved beforehand (`fuelsim.transients.plumbing_table`); along the trajectory the networks are solved once
more, exactly, which gives the results shown and the error of the table.

Whether the engine runs is judged by those exact solutions, and it has a memory. An engine that stops of itself stays
stopped: its pumps are cut (the seconds of the engine's `pump_cut_delay` carry no heat worth counting), nothing is
burnt, tank, pots and rail exchange heat with what surrounds them. It is restarted at the first of the times shown at
which the plumbing of the moment, with the pump standing in vapour, feeds it within 1 % of the mixture asked for, or
at the start of a later phase that runs the engine, if it does so there. What surrounds the parts goes on as the
schedule has it. After a phase that switches the engine off an engine that ran before it starts with liquid in its
lines: what a hot line makes of that start is a question for `hot_soak`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import units
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.car.climate import Climate
from fuelsim.car.tables import Rail
from fuelsim.interruption import Completion, Interruption, interruption_noted
from fuelsim.network.state import ByName
from fuelsim.numerics.pointwise import greatest_at_each_point, least_at_each_point
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.controller import EngineState
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.system.vessels import vessels_before
from fuelsim.transients.along import Along, SolvedAlong, Table
from fuelsim.transients.drive_results import Drive, HeatLedger
from fuelsim.transients.events import Signals, find_events
from fuelsim.transients.heat_sources import HeatSources, heat_sources
from fuelsim.transients.integration import EMPTY_LEVEL, integrate
from fuelsim.transients.plumbing_table import PlumbingTable, join_stages, near_limit, tabulate_plumbing
from fuelsim.transients.pot_flows import (
    VesselFlows,
    columns_of,
    enthalpy,
    flows_of,
    overflow_flows,
    planned_pots,
    vessel_flows,
)
from fuelsim.transients.pot_table import PotTable, Stage, tabulate_pots
from fuelsim.transients.schedule import Schedule
from fuelsim.transients.stagnant_rail import (
    engine_metal_temperature,
    rail_heat_capacity,
    rails_of,
    stagnant_rail_temperature,
)
from fuelsim.transients.tank_equations import TankEquations, Trajectory
from fuelsim.transients.tank_fuel import WEATHERED, WEATHERING_TEMPERATURE, tank_fuel
from fuelsim.transients.world import World
from fuelsim.typing import ArrayLike, BoolArray, Given, IndexArray, PointArray, TextArray

if TYPE_CHECKING:
    from fuelsim.system.plumbing import Plumbing

__all__ = ["Drive", "HeatLedger", "drive"]

WORTH_WEATHERING = 3e-3
"""Mass fraction evaporated from which the plumbing is solved with the weathered fuel too."""
LEAST_RAIL_PRESSURE = 1e4
"""Rail pressure below which the error of the table is a share of this pressure, Pa."""


OUTPUT_STEP = number("time", 1.0, 3600.0, example="60 s", single=True)
"""Time between two states that a drive hands over."""


@system_or_car
@takes({"tank_temperature": ONE_CONDITION["tank_temperature"], "output_step": OUTPUT_STEP})
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
    KeyboardInterrupt
        After Ctrl-C before the first states; later it ends the drive with what is finished.

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
    fuel, system = tank_fuel(car.fuel.fuel()), System(car, layout)
    equations = TankEquations(car, world, fuel, planned_pots(system.plumbing))
    step = float(units.convert(output_step, "time"))
    with interruption_noted() as interruption:
        collection = _Journey(equations, Stage(system, 0.0), tank_temperature, step, interruption).longest()
        time = collection.trajectory.time
        if len(time) < 2:
            raise KeyboardInterrupt
        result = collection.drive()
    if not interruption.came:
        return result
    planned = sum(phase.duration for phase in schedule.phases)
    return replace(result, completion=Completion(float(time[-1]) / 60.0, planned / 60.0, "min", interrupted=True))


@dataclass(frozen=True)
class _Journey:
    """A drive to be integrated with the fresh fuel and, where enough of it evaporates, with the weathered one beside.

    That its engine never stops of itself is tried first: this needs the networks solved along the trajectory once,
    while those of an engine that may stop are asked in the course of the integration.
    """

    equations: TankEquations
    fresh: Stage
    tank_temperature: Given | None
    output_step: float
    interruption: Interruption

    def longest(self) -> _Collection:
        """Return the whole drive, or as much of it as is known at Ctrl-C."""
        freely = self.collection(judged=False)
        stopped = np.zeros(len(freely.trajectory.time), dtype=bool)
        stopped[freely.points] = freely.solved.engine_state == EngineState.STOPPED
        if not np.any(stopped):
            return freely
        # Until it stops, or weathers beside the fresh fuel alone, the engine has the same trajectory.
        if len(freely.stages) == 1:
            stopped |= freely.trajectory.states.evaporated > WORTH_WEATHERING
        until_stop = replace(freely, trajectory=freely.trajectory.before(stopped))
        if self.interruption.came:
            return until_stop
        judged = self.collection(judged=True)
        cut_short = self.interruption.came and len(judged.trajectory.time) < len(until_stop.trajectory.time)
        return until_stop if cut_short else judged

    @cached_property
    def tables(self) -> list[Table | None]:
        """Plumbing of each phase with the fresh fuel."""
        return _first_tables(self.equations, self.fresh)

    @cached_property
    def weathered_tables(self) -> dict[float, tuple[Stage, list[Table | None]]]:
        """The plumbing with the weathered fuel, and of each phase with both, by the mass fraction evaporated."""
        return {}

    def collection(self, *, judged: bool) -> _Collection:
        """Return the trajectory and what its results are collected from."""
        equations = self.equations
        start = equations.start(self.tank_temperature)
        stages, tables = [self.fresh], self.tables
        trajectory = integrate(equations, start, tables, self.output_step, stages, self.interruption, judged=judged)
        lost = float(np.max(trajectory.states.evaporated))
        if lost > WORTH_WEATHERING and (judged or not self._stops(trajectory)):
            # Until then it is the drive of both fuels.
            fresh = _Collection(
                equations, stages, tables, trajectory.before(trajectory.states.evaporated > WORTH_WEATHERING)
            )
            if self.interruption.came:
                return fresh
            evaporated = float(np.ceil(min(1.05 * lost, WEATHERED[-1]) * 100.0) / 100.0)
            if evaporated not in self.weathered_tables:
                own = equations.fuel.fuel.weathered(evaporated, WEATHERING_TEMPERATURE)
                system = self.fresh.system
                weathered = Stage(System(system.car, system.layout, own), evaporated)
                self.weathered_tables[evaporated] = weathered, _joined_tables(equations, self.tables, weathered)
            weathered, tables = self.weathered_tables[evaporated]
            stages = [self.fresh, weathered]
            trajectory = integrate(equations, start, tables, self.output_step, stages, self.interruption, judged=judged)
            if self.interruption.came and len(trajectory.time) < len(fresh.trajectory.time):
                return fresh
        return _Collection(equations, stages, tables, trajectory)

    def _stops(self, trajectory: Trajectory) -> bool:
        """Return whether the engine stops with the fresh fuel, where the tables are at their limit."""
        along = Along(self.equations, [self.fresh], trajectory)
        asked = [
            along.near_limit(table, np.flatnonzero((trajectory.phase == phase) & ~trajectory.out_of_fuel))
            for phase, table in enumerate(self.tables)
            if table is not None
        ]
        points = np.concatenate(asked) if asked else np.zeros(0, dtype=int)
        return bool(points.size) and bool(np.any(along.judge(points).stopped))


def _first_tables(equations: TankEquations, stage: Stage) -> list[Table | None]:
    """Return the plumbing of each phase with the fresh fuel."""
    world, fuel, pressures = equations.world, equations.fuel, equations.pressure_grid()
    if equations.pots:
        return list(tabulate_pots(stage, equations.pots, fuel, world, pressures))
    return list(tabulate_plumbing(stage.system, stage.evaporated, fuel, world, pressures))


def _joined_tables(equations: TankEquations, tables: list[Table | None], stage: Stage) -> list[Table | None]:
    """Return the plumbing of each phase with the weathered fuel beside the fresh one."""
    if equations.pots:
        return [table.with_stage(stage) if isinstance(table, PotTable) else None for table in tables]
    plain = [table if isinstance(table, PlumbingTable) else None for table in tables]
    pressures = equations.pressure_grid()
    return list(
        join_stages(
            plain, tabulate_plumbing(stage.system, stage.evaporated, equations.fuel, equations.world, pressures)
        )
    )


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
    heat_sources: HeatSources
    pump_power: PointArray
    engine_state: TextArray
    mixture: PointArray
    vapour_lock: BoolArray
    over_vapour_limit: BoolArray


@dataclass(frozen=True)
class _Collection:
    """What the results of a drive are collected from: the equations, the plumbing, its tables, and the trajectory."""

    equations: TankEquations
    stages: list[Stage]
    tables: list[Table | None]
    trajectory: Trajectory

    @cached_property
    def along(self) -> Along:
        """What the plumbing finds at every time."""
        return Along(self.equations, self.stages, self.trajectory)

    @property
    def plumbing(self) -> Plumbing:
        """The plumbing."""
        return self.stages[0].system.plumbing

    @cached_property
    def running(self) -> BoolArray:
        """Whether the engine runs."""
        phases = self.equations.world.schedule.phases
        asked = np.array([phases[index].engine == "running" for index in self.trajectory.phase])
        return asked & ~self.trajectory.out_of_fuel & ~self.trajectory.stopped

    @cached_property
    def points(self) -> IndexArray:
        """Numbers of the times for which the networks are solved."""
        return np.flatnonzero(self.running) if np.any(self.running) else np.array([0])

    @cached_property
    def solved(self) -> SolvedAlong:
        """The networks solved at these times."""
        return self.along.solve(self.points)

    @property
    def supply_temperature(self) -> PointArray:
        """Temperature of the fuel that the main pump draws, from the tank or from its pot, K."""
        of_pots = self.along.pot_temperatures
        for vessel in vessels_before(self.plumbing, self.plumbing.main_pump.upstream):
            if vessel in of_pots:
                return of_pots[vessel]
        return self.along.network_temperature

    def drive(self) -> Drive:
        """Solve the networks along the trajectory and collect everything."""
        trajectory, equations = self.trajectory, self.equations
        states, phases = trajectory.states, equations.world.schedule.phases
        boiling = equations.fuel.boiling_temperatures(self.along.tank_pressure, states.evaporated)
        plumbing, by_pump = self._solved_along()
        fuel_mass = states.liquid + equations.supply_mass + sum(pot.mass for pot in trajectory.pots)
        margin, pumps, rails = plumbing.vapour_margin, self.plumbing.pumps, self.plumbing.rails
        levels = self.along.pot_levels
        signals = Signals(
            time=trajectory.time,
            suction_margin={
                link.name: plumbing.pressure_margin[link.upstream] - link.part.npsh_required
                for link in pumps
                if link.part.mounting == "external"
            },
            pump_margin={link.name: margin[link.upstream] for link in pumps},
            rail_margin={rail: margin[rail] for rail in rails},
            tank_temperature=states.temperature,
            boiling_temperature=boiling,
            over_vapour_limit=by_pump,
            engine_state=plumbing.engine_state,
            stops=trajectory.stops,
            fuel_mass=fuel_mass,
            npsh_required={link.name: float(link.part.npsh_required) for link in pumps},
            pot_level=levels,
            pot_empty={
                pot: trajectory.out_of_fuel & (level <= EMPTY_LEVEL * (1.0 + 1e-3)) for pot, level in levels.items()
            },
        )
        ratio = plumbing.vapour_liquid_ratio
        return Drive(
            layout=self.stages[0].system.layout,
            time=trajectory.time,
            phase=np.array([phases[index].name for index in trajectory.phase], dtype=object),
            running=self.running,
            air_temperature=self.along.world.air_temperature,
            bay_temperature=self.along.world.bay_temperature,
            underfloor_temperature=self.along.world.underfloor_temperature,
            altitude=self.along.world.altitude,
            tank_temperature=states.temperature,
            supply_temperature=self.supply_temperature,
            boiling_temperature=boiling,
            tank_gauge_pressure=self.along.tank_gauge_pressure,
            fuel_mass=fuel_mass,
            vapour_lost=states.vented,
            evaporated=states.evaporated,
            events=find_events(signals),
            ledger=self._ledger(plumbing.heat_sources),
            mass_error=self._mass_error(),
            interpolation_error=self._interpolation_error(plumbing),
            rail_gauge_pressure=least_at_each_point([plumbing.gauge_pressure[rail] for rail in rails]),
            rail_temperature=greatest_at_each_point([plumbing.temperature[rail] for rail in rails]),
            pump_margin=least_at_each_point(list(signals.pump_margin.values())),
            rail_margin=least_at_each_point(list(signals.rail_margin.values())),
            pump_vapour=greatest_at_each_point([ratio[link.upstream] for link in pumps]),
            pot_level=ByName("pot", list(levels), [np.minimum(level, 1.0) for level in levels.values()].__getitem__),
            pot_temperature=ByName("pot", list(levels), list(self.along.pot_temperatures.values()).__getitem__),
            out_of_fuel=trajectory.out_of_fuel,
            **vars(plumbing),
        )

    def _ledger(self, sources: HeatSources) -> HeatLedger:
        first, last = self.trajectory.state(0), self.trajectory.state(-1)
        of_states = {name: getattr(last, name) - getattr(first, name) for name in HeatSources._fields}
        at_times = {name: self._over_time(power) for name, power in sources._asdict().items()}
        before, after = (
            self.equations.enthalpy(state, self.trajectory.pot_states(point))
            for state, point in ((first, 0), (last, -1))
        )
        return HeatLedger(
            wall=last.wall - first.wall,
            returned=last.returned - first.returned,
            radiated=last.radiated - first.radiated,
            lift=last.lift - first.lift,
            sun=last.sun - first.sun,
            road=last.road - first.road,
            **(at_times if self.equations.pots else of_states),
            evaporation=last.evaporation - first.evaporation,
            carried=last.carried - first.carried,
            stored=after - before,
        )

    def _over_time(self, power: PointArray) -> float:
        """Return the integral of a heat flow that is nothing while the engine is stopped, J, by the trapezoidal rule.

        Each phase begins with the time at which the one before ends.
        """
        return float(np.trapezoid(np.nan_to_num(power), self.trajectory.time))

    def _mass_error(self) -> float:
        """Return the fuel unaccounted for, as a share of the fuel at the start."""
        first, last = self.trajectory.state(0), self.trajectory.state(-1)
        gained = (last.liquid - first.liquid) + (last.vapour - first.vapour)
        gained += (last.vented - first.vented) + (last.burnt - first.burnt)
        gained += float(sum(pot.mass[-1] - pot.mass[0] for pot in self.trajectory.pots))
        return abs(gained) / first.liquid

    def _interpolation_error(self, plumbing: _Plumbing) -> float:
        """Return the largest relative error of the rail pressure in the table, away from the vapour limit."""
        trajectory = self.trajectory
        interpolated = np.full(trajectory.time.shape, np.nan)
        near = np.zeros(trajectory.time.shape)
        for point in np.flatnonzero(self.running):
            table = self.tables[trajectory.phase[point]]
            interpolated[point], near[point] = self.along.in_table(table, int(point))
        rail = least_at_each_point([plumbing.gauge_pressure[name] for name in self.plumbing.rails])
        error = np.abs(interpolated - rail) / np.maximum(np.abs(rail), LEAST_RAIL_PRESSURE)
        fed = self.running & (plumbing.engine_state == EngineState.FED)
        judged = fed & ~plumbing.over_vapour_limit & (near == 0.0) & np.isfinite(error)
        return float(np.max(error[judged], initial=0.0))

    def _solved_along(self) -> tuple[_Plumbing, dict[str, BoolArray]]:
        """Return the results shown, mixed of both fuels, and by pump where it is over its vapour limit."""
        running, points, solved = self.running, self.points, self.solved
        runs, shifts, weathering = solved.runs, solved.shifts, solved.weathering
        flows: list[VesselFlows[PointArray]] = []
        if self.equations.pots:
            for stage, run, shift in zip(self.stages, runs, shifts, strict=True):
                tank, pots = self.along.supplies(shift, points)
                near, fuel = near_limit(run).astype(float), self.equations.fuel
                flows.append(vessel_flows(run, stage.system, self.equations.pots, fuel, tank, pots, near))
        mixture = _Mixture(weathering, points, running)
        shift = mixture.values(shifts)
        temperatures = mixture.columns([run.temperature for run in runs])
        temperatures = {name: values - shift for name, values in temperatures.items()}
        for rail, ratings in rails_of(self.stages[0].system).items():
            temperatures[rail] = self._with_soaks(ratings, temperatures[rail])
        temperatures |= self.along.pot_temperatures
        flow = mixture.columns([run.flow for run in runs])
        heat = mixture.values([run.tank_heat_flow for run in runs])
        if flows:
            mixed = [mixture.values(columns) for columns in zip(*(columns_of(own) for own in flows), strict=True)]
            shown, heat = self._with_pots(flows_of(mixed))
            density = {name: np.asarray(runs[0].mass_flow[name]) / np.asarray(runs[0].flow[name]) for name in shown}
            flow |= {name: mass / mixture.values([density[name]]) for name, mass in shown.items()}
        by_pump = {}
        for link in self.plumbing.pumps:
            over = solved.over_vapour_limit(link.name)
            by_pump[link.name] = np.zeros(running.shape, dtype=bool)
            by_pump[link.name][points] = running[points] & over
        engine_state = np.full(running.shape, "", dtype=object)
        engine_state[points] = np.where(running[points], solved.engine_state, "")
        engine_state[self.trajectory.stopped] = EngineState.STOPPED.value
        also = self.plumbing.also_named
        return _Plumbing(
            temperature=ByName("station", list(temperatures), list(temperatures.values()).__getitem__, also),
            gauge_pressure=mixture.by_name("station", [run.gauge_pressure for run in runs], also),
            vapour_margin=mixture.by_name("station", [run.vapour_margin for run in runs], also),
            pressure_margin=mixture.by_name("station", [run.pressure_margin for run in runs], also),
            vapour_liquid_ratio=mixture.by_name("station", [run.vapour_liquid_ratio for run in runs], also),
            flow=ByName("link", list(flow), list(flow.values()).__getitem__, also),
            suction_margin=mixture.values([run.suction_margin for run in runs]),
            bypass_flow=mixture.values([run.bypass_flow for run in runs]),
            injector_duty=mixture.values([run.injector_duty for run in runs]),
            tank_heat_flow=heat,
            heat_sources=HeatSources._make(
                mixture.values(values) for values in zip(*(heat_sources(run) for run in runs), strict=True)
            ),
            pump_power=mixture.values([np.sum(list(run.pump_power.values()), axis=0) for run in runs]),
            engine_state=engine_state,
            mixture=mixture.values([run.mixture for run in runs]),
            vapour_lock=self._locked(),
            over_vapour_limit=np.logical_or.reduce(list(by_pump.values())),
        ), by_pump

    def _locked(self) -> BoolArray:
        """Return where the engine is stopped and vapour was the cause."""
        locked = np.zeros(self.running.shape, dtype=bool)
        for stop in self.trajectory.stops:
            if stop.by_vapour:
                time = self.trajectory.time
                locked |= self.trajectory.stopped & (time >= stop.time) & (time <= stop.restart)
        return locked

    def _with_pots(self, flows: VesselFlows[PointArray]) -> tuple[dict[str, PointArray], PointArray]:
        """Return what runs over from each pot by link, kg/s, and the heat that comes into the tank, W."""
        phases, fuel, pots = self.equations.world.schedule.phases, self.equations.fuel, self.equations.pots
        share = np.array([float(phases[index].lift_share) for index in self.trajectory.phase])
        overflows = overflow_flows(pots, flows, list(self.along.pot_levels.values()), share)
        shown: dict[str, PointArray] = {}
        heat = flows.returned_heat
        of_tank = enthalpy(fuel, self.trajectory.states.temperature)
        for pot, own, (_, over) in zip(pots, flows.pots, overflows, strict=True):
            mass = np.asarray(over)
            shown |= dict.fromkeys((name for way in pot.overflow for name in way), mass / len(pot.overflow))
            if pot.ends_in is None:
                excess = enthalpy(fuel, self.along.pot_temperatures[pot.name]) - of_tank
                heat = heat + mass * (excess + own.overflow_heating)
        return shown, heat

    def _with_soaks(self, ratings: Rail, rail: PointArray) -> PointArray:
        """Return a rail's temperature with the stops filled in: it follows bay and engine while nothing flows."""
        car, time, world = self.equations.car, self.trajectory.time, self.along.world
        filled = np.array(rail)
        capacity = rail_heat_capacity(ratings, self.stages[0].system.fuel)
        stopped_at = 0.0
        for point in np.flatnonzero(~self.running):
            if point == 0:
                filled[0] = world.air_temperature[0]
                continue
            if self.running[point - 1]:
                stopped_at = time[point - 1]
            cold = not np.any(self.running[:point])
            air = world.air_temperature[point]
            filled[point] = stagnant_rail_temperature(
                ratings,
                filled[point - 1],
                time[point] - time[point - 1],
                world.bay_temperature[point],
                air if cold else engine_metal_temperature(car, air, time[point] - stopped_at),
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

    def by_name(
        self, what: str, of_runs: Sequence[Mapping[str, PointArray]], also_named: Mapping[str, str]
    ) -> ByName[PointArray]:
        """Return `columns` as a mapping whose errors name the nearest station or link.

        Parameters
        ----------
        what : str
            ``"station"`` or ``"link"``, for messages.
        of_runs : sequence of mapping of str to array (points,)
            The results of each run, with equal names.
        also_named : mapping of str to str
            Other names, each with the one that results have.
        """
        columns = self.columns(of_runs)
        return ByName(what, list(columns), list(columns.values()).__getitem__, also_named)
