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

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.car.climate import Climate
from fuelsim.car.tables import Rail
from fuelsim.interruption import WHOLE, Completion, Interruption, interruption_noted
from fuelsim.network.state import ByName
from fuelsim.numerics.pointwise import greatest_at_each_point, least_at_each_point
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.controller import EngineState
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import Run, System
from fuelsim.system.vessels import vessels_before
from fuelsim.transients.along import Along, Table
from fuelsim.transients.drive_results import Drive, DriveSamples, HeatLedger
from fuelsim.transients.events import Signals, find_events
from fuelsim.transients.heat_sources import HeatSources, heat_sources
from fuelsim.transients.integration import EMPTY_LEVEL, integrate
from fuelsim.transients.plumbing_table import near_limit, tabulate_plumbing
from fuelsim.transients.pot_flows import (
    VesselFlows,
    columns_of,
    enthalpy,
    flows_of,
    overflow_flows,
    planned_pots,
    vessel_flows,
)
from fuelsim.transients.pot_table import tabulate_pots
from fuelsim.transients.schedule import Schedule
from fuelsim.transients.stagnant_rail import (
    engine_metal_temperature,
    rail_heat_capacity,
    rails_of,
    stagnant_rail_temperature,
)
from fuelsim.transients.tank_equations import LEAST_FUEL, TankEquations, Trajectory
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
from fuelsim.transients.world import World
from fuelsim.typing import ArrayLike, BoolArray, Given, IndexArray, PointArray, TextArray, UncertaintyAsked

if TYPE_CHECKING:
    from fuelsim.system.plumbing import Plumbing

__all__ = ["Drive", "HeatLedger", "drive"]

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
    uncertainty: UncertaintyAsked = False,
    progress: bool | None = None,
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
    uncertainty : bool, int or mapping, optional
        Whether samples of what is not known are driven too, each a drive of its own: True for 16 of `band_inputs`,
        another number (8 times a power of two), or keys of the car file each with (low, high), (low, middle, high) or
        a distribution. The cost is printed before they start.
    progress : bool, optional
        Whether to show a bar over the samples; left out, on a terminal only. False for no word of their cost either.

    Returns
    -------
    Drive
        After Ctrl-C among the samples, with those that are finished.

    Raises
    ------
    InputError
        For an unknown layout, a start above the fuel's boiling point or with too little fuel, or samples that do not
        suit.
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
    plumbing = WeatheringPlumbing(System(car, layout), tank_fuel(car.fuel.fuel()))
    equations = TankEquations(car, world, plumbing.fuel, planned_pots(plumbing.fresh.plumbing))
    step = float(units.convert(output_step, "time"))
    with interruption_noted() as interruption:
        journey = _Journey(equations, plumbing, tank_temperature, step, interruption)
        collection = journey.longest()
        time = collection.trajectory.time
        if len(time) < 2:
            raise KeyboardInterrupt
        result = collection.drive()
    if not interruption.came:
        if uncertainty is False:
            return result
        samples = journey.samples(uncertainty, climate, progress)
        return replace(result, samples=samples, completion=samples.completion if samples.interrupted else WHOLE)
    planned = sum(phase.duration for phase in schedule.phases)
    return replace(result, completion=Completion(float(time[-1]) / 60.0, planned / 60.0, "min", interrupted=True))


@dataclass(frozen=True)
class _Journey:
    """A drive to be integrated.

    That its engine never stops of itself is tried first: this needs the networks solved along the trajectory once,
    while those of an engine that may stop are asked in the course of the integration.
    """

    equations: TankEquations
    plumbing: WeatheringPlumbing
    tank_temperature: Given | None
    output_step: float
    interruption: Interruption

    def longest(self) -> _Collection:
        """Return the whole drive, or as much of it as is known at Ctrl-C."""
        freely = self.collection(judged=False)
        stopped = np.zeros(len(freely.trajectory.time), dtype=bool)
        stopped[freely.points] = freely.run.engine_state == EngineState.STOPPED
        if not np.any(stopped):
            return freely
        # Until it stops the engine has the same trajectory.
        until_stop = replace(freely, trajectory=freely.trajectory.before(stopped))
        if self.interruption.came:
            return until_stop
        judged = self.collection(judged=True)
        cut_short = self.interruption.came and len(judged.trajectory.time) < len(until_stop.trajectory.time)
        return until_stop if cut_short else judged

    def samples(self, asked: UncertaintyAsked, climate: Climate | None, progress: bool | None) -> DriveSamples:
        """Return the drive over the distributions of what is not known."""
        return opener.drive_samples(
            self.equations.car,
            self.plumbing.fresh.layout,
            self.equations.world.schedule,
            asked,
            climate=climate,
            tank_temperature=self.tank_temperature,
            output_step=self.output_step,
            progress=progress,
        )

    @cached_property
    def tables(self) -> list[Table | None]:
        """Plumbing of each phase."""
        equations, pressures = self.equations, self.equations.pressure_grid()
        if equations.pots:
            return list(tabulate_pots(self.plumbing, equations.pots, equations.world, pressures))
        return list(tabulate_plumbing(self.plumbing, equations.world, pressures))

    def collection(self, *, judged: bool) -> _Collection:
        """Return the trajectory and what its results are collected from."""
        start = self.equations.start(self.tank_temperature)
        trajectory = integrate(
            self.equations, start, self.tables, self.output_step, self.plumbing, self.interruption, judged=judged
        )
        return _Collection(self.equations, self.plumbing, self.tables, trajectory)


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
    weathering: WeatheringPlumbing
    tables: list[Table | None]
    trajectory: Trajectory

    @cached_property
    def along(self) -> Along:
        """What the plumbing finds at every time."""
        return Along(self.equations, self.weathering, self.trajectory)

    @property
    def plumbing(self) -> Plumbing:
        """The plumbing."""
        return self.weathering.fresh.plumbing

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
    def run(self) -> Run:
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
            pick_up_bare=bool(states.liquid[-1] - LEAST_FUEL <= 1e-3),
            npsh_required={link.name: float(link.part.npsh_required) for link in pumps},
            pot_level=levels,
            pot_empty={pot: trajectory.out_of_fuel & (level - EMPTY_LEVEL <= 1e-6) for pot, level in levels.items()},
        )
        ratio = plumbing.vapour_liquid_ratio
        return Drive(
            layout=self.weathering.fresh.layout,
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
        """Return the results shown, and by pump where it is over its vapour limit."""
        running, points, run = self.running, self.points, self.run
        temperatures = self._columns(run.temperature)
        for rail, ratings in rails_of(self.weathering.fresh).items():
            temperatures[rail] = self._with_soaks(ratings, temperatures[rail])
        temperatures |= self.along.pot_temperatures
        flow, heat = self._columns(run.flow), self._at_all_times(run.tank_heat_flow)
        if self.equations.pots:
            tank, pots = self.along.supplies(points)
            near, fuel = near_limit(run).astype(float), self.equations.fuel
            flows = vessel_flows(run, self.equations.pots, fuel, tank, pots, near)
            shown, heat = self._with_pots(flows_of([self._at_all_times(column) for column in columns_of(flows)]))
            for name, mass in shown.items():
                density = np.asarray(run.mass_flow[name]) / np.asarray(run.flow[name])
                flow[name] = mass / self._at_all_times(density)
        by_pump = {}
        for link in self.plumbing.pumps:
            by_pump[link.name] = np.zeros(running.shape, dtype=bool)
            by_pump[link.name][points] = running[points] & run.over_vapour_limit[link.name]
        engine_state = np.full(running.shape, "", dtype=object)
        engine_state[points] = np.where(running[points], run.engine_state, "")
        engine_state[self.trajectory.stopped] = EngineState.STOPPED.value
        also = self.plumbing.also_named
        return _Plumbing(
            temperature=ByName("station", list(temperatures), list(temperatures.values()).__getitem__, also),
            gauge_pressure=self._by_name("station", run.gauge_pressure, also),
            vapour_margin=self._by_name("station", run.vapour_margin, also),
            pressure_margin=self._by_name("station", run.pressure_margin, also),
            vapour_liquid_ratio=self._by_name("station", run.vapour_liquid_ratio, also),
            flow=ByName("link", list(flow), list(flow.values()).__getitem__, also),
            suction_margin=self._at_all_times(run.suction_margin),
            bypass_flow=self._at_all_times(run.bypass_flow),
            injector_duty=self._at_all_times(run.injector_duty),
            tank_heat_flow=heat,
            heat_sources=HeatSources._make(self._at_all_times(values) for values in heat_sources(run)),
            pump_power=self._at_all_times(np.sum(list(run.pump_power.values()), axis=0)),
            engine_state=engine_state,
            mixture=self._at_all_times(run.mixture),
            vapour_lock=self._locked(),
            over_vapour_limit=np.logical_or.reduce(list(by_pump.values())),
        ), by_pump

    def _at_all_times(self, of_run: ArrayLike) -> PointArray:
        """Return a result of the networks solved at some times on the whole time axis; NaN where no engine runs."""
        values = np.full(self.running.shape, np.nan)
        values[self.points] = np.where(self.running[self.points], np.asarray(of_run, dtype=float), np.nan)
        return values

    def _columns(self, of_run: Mapping[str, PointArray]) -> dict[str, PointArray]:
        """Return results by name as `_at_all_times` does each."""
        return {name: self._at_all_times(values) for name, values in of_run.items()}

    def _by_name(
        self, what: str, of_run: Mapping[str, PointArray], also_named: Mapping[str, str]
    ) -> ByName[PointArray]:
        """Return `_columns` as a mapping whose errors name the nearest station or link."""
        columns = self._columns(of_run)
        return ByName(what, list(columns), list(columns.values()).__getitem__, also_named)

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
        capacity = rail_heat_capacity(ratings, self.weathering.fresh.fuel)
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
