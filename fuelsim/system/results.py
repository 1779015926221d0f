"""What comes out of a run: pressures, flows, temperatures, vapour, electrics and outcome at every operating point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple, TypeVar, cast

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes, whole
from fuelsim.car.car import Car
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.fuels import FuelPerPoint
from fuelsim.network.state import ByName
from fuelsim.numerics.pointwise import greatest_at_each_point
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.shown import Shown
from fuelsim.system.collected import CoupledSolution
from fuelsim.system.conditions import MOST_POINTS, Conditions
from fuelsim.system.controller import EngineState
from fuelsim.system.coupling import couple
from fuelsim.system.judgement import AtStop, judge, least_rail_difference, pump_flow_lost
from fuelsim.system.link_heat import burnt_heat_flow, heat_flows
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import MANIFOLD, Plumbing
from fuelsim.system.run_values import RunValues
from fuelsim.typing import ArrayLike, BoolArray, FloatArray, TextArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure


__all__ = ["RailResult", "Run", "collect"]

Column = TypeVar("Column")

SECOND_STATE = 0.01
"""Share by which the flow out of the tank differs between two solutions at the least."""


@dataclass(frozen=True)
class RailResult(Shown):
    """One rail at every operating point; every array has the shape of the conditions.

    Attributes
    ----------
    injectors : int
        Number of injectors on the rail.
    pressure, gauge_pressure : array
        Pressure, Pa absolute, and pressure above the atmosphere, Pa.
    pressure_difference : array
        Pressure of the rail over the manifold, Pa.
    injector_duty : array
        Fraction of the time an injector is open; 1 is held open.
    flow, mass_flow : array
        Through the rail's injectors, m3/s and kg/s.
    trim, mixture : array
        As `Run.trim` and `Run.mixture`.
    """

    injectors: int
    pressure: FloatArray
    gauge_pressure: FloatArray
    pressure_difference: FloatArray
    injector_duty: FloatArray
    flow: FloatArray
    mass_flow: FloatArray
    trim: FloatArray
    mixture: FloatArray

    @property
    def headline(self) -> str:
        """Return how many injectors there are, and at how many operating points."""
        return f"{self.injectors} injectors at {np.size(self.pressure)} operating points"


class Solved(NamedTuple):
    """What a run was solved for: enough to ask for its other solution.

    Attributes
    ----------
    car, plumbing : Car, Plumbing
        Ratings that are lists have one value per point.
    fuel : Fuel or FuelPerPoint
        In the tank.
    points : OperatingPoints
    from_locked : bool
        Whether the iteration came from pumps that gas has stopped.
    """

    car: Car
    plumbing: Plumbing
    fuel: Fuel | FuelPerPoint
    points: OperatingPoints
    from_locked: bool


@dataclass(frozen=True)
class Run(Shown):
    """Results of one layout at every operating point; every array has the shape of the conditions.

    Where an engine stops its results are those of the pump cut, with nothing flowing and margins that are NaN;
    `at_stop` holds the state it stopped in.

    Attributes
    ----------
    plumbing : Plumbing
        What stands where.
    conditions : Conditions
        What was asked, with the car's own values filled in.
    pressure, gauge_pressure : mapping of node to array
        Pressure, Pa absolute, and pressure above the atmosphere, Pa.
    flow : mapping of link to array
        Volume flow at the liquid's local density, m3/s.
    mass_flow : mapping of link to array
        Mass flow, kg/s.
    temperature : mapping of node to array
        Temperature, K; where fuel boils, that of liquid and vapour after an isenthalpic drop from the last all-liquid
        state.
    vapour_liquid_ratio : mapping of node to array
        Ratio of vapour to liquid volume, after an isenthalpic drop from the last all-liquid state.
    vapour_margin : mapping of node to array
        Bubble temperature at the local pressure less the local temperature, K; negative where fuel boils, then counted
        from the temperature the fuel would have if it were still liquid.
    pressure_margin : mapping of node to array
        Local pressure less the bubble pressure at the local temperature, Pa.
    injector_duty : array
        Fraction of the time an injector is open; 1 is held open.
    injector_pressure_difference : array
        Pressure of the rail over the manifold, Pa.
    pump_duty : array
        Share of the time the pump is switched on: as asked, times what the car's pump steps make of it.
    pump_share : mapping of pump to array
        Fraction of the time each pump is switched on, or of a speed-controlled one its speed over the highest tested;
        0 where it is switched off.
    pump_on : mapping of pump to bool array
        Whether each pump runs: False where its stage or its controller stops it, and where the point failed.
    pump_stalled : mapping of pump to bool array
        Whether each pump has voltage but does not turn: its motor draws its locked-rotor current, or its controller
        cuts out; where the engine stopped, whether it was so as it stopped. False where the point failed.
    pump_cycles : mapping of staged pump to bool array
        Whether a pump switches on and off in turn, because its own step of pressure reaches from one threshold of its
        stage to the other.
    pump_voltage, pump_current, pump_power : mapping of pump to array
        Voltage at the terminals, V, current, A, and electrical power, W; voltage and current while it is switched on.
    bypass_flow : array
        Flow through the regulator back to the tank, m3/s; 0 where it is shut.
    rail_pressure_band : array
        How far above and below the solved pressure the rail may stand because of the regulator's hysteresis, Pa; 0
        where it does not regulate.
    suction_margin : array
        Pressure margin, Pa, at the pump's inlet beyond the NPSH the pump requires: negative is noise and wear, which
        is another threshold than loss of flow; of the pump that has least.
    pump_flow_lost : array
        Share of the pump's flow lost to gas and vapour at its inlet, 0 to 1; of the pump that loses most.
    over_vapour_limit : mapping of pump to bool array
        Whether the vapour at a pump's inlet is beyond its tolerance, where it is loud and loses flow fast, though the
        engine may run; where the engine stopped, whether it was as it stopped. False where the point failed.
    engine_state : array of str
        ``"fed"`` (mixture within 1 % of the one asked for, or richer), ``"lean"`` or ``"stopped"``, as `EngineState`;
        empty where the point failed.
    trim : array
        Share by which the controller lengthens (+) or shortens (-) the pulse, dead time excluded; of the rail with the
        leanest mixture.
    mixture : array
        Air-fuel ratio over the one asked for; of the leanest rail.
    vapour_lock : bool array
        Whether the engine is stopped and vapour at a pump's inlet is the cause.
    at_stop : AtStop
        What was there as the engine stopped.
    tank_heat_flow : array
        Heat that the returning fuel brings into the tank, W.
    shed_heat : array
        Part of it that submerged pumps give to the fuel around them, W.
    outlet_temperature : mapping of link to array
        Temperature at the end of each link as if all liquid, K.
    heat_flow : mapping of link to array
        Heat that the fuel takes in along each link, W; in a pump the part of its power that goes along with the fuel.
    burnt_heat_flow : array
        Heat that the burnt fuel takes along from the plumbing, above fuel of the tank, W.
    by_rail : mapping of rail to RailResult
        Pressure, flow and duty of each rail.
    pot_overflow : mapping of pot to array
        Flow that runs over to the tank, m3/s; negative is the flow by which a pot empties, because more leaves it than
        comes in.
    pot_time : mapping of pot to array
        Time until a full pot is empty, s; infinite where it stays full.
    regime : mapping of link to array of str
        What each part does, as words of `Regime`.
    outcome : Outcome
        Whether and why each operating point solved.
    solved : Solved
        What was solved for.
    as_solved : CoupledSolution
        The solution with the pumps on at every point.

    Examples
    --------
    >>> import fuelsim as fs
    >>> run = fs.Car.named("finch").system("returnless_tank").solve(rpm=[1000, 6000])
    >>> bool(run.outcome.converged.all()), "rail" in run.pressure
    (True, True)
    """

    plumbing: Plumbing = field(repr=False)
    conditions: Conditions
    pressure: Mapping[str, FloatArray]
    gauge_pressure: Mapping[str, FloatArray]
    flow: Mapping[str, FloatArray]
    mass_flow: Mapping[str, FloatArray]
    temperature: Mapping[str, FloatArray]
    vapour_liquid_ratio: Mapping[str, FloatArray]
    vapour_margin: Mapping[str, FloatArray]
    pressure_margin: Mapping[str, FloatArray]
    injector_duty: FloatArray
    injector_pressure_difference: FloatArray
    pump_duty: FloatArray
    pump_share: Mapping[str, FloatArray]
    pump_on: Mapping[str, BoolArray]
    pump_stalled: Mapping[str, BoolArray]
    pump_cycles: Mapping[str, BoolArray]
    pump_voltage: Mapping[str, FloatArray]
    pump_current: Mapping[str, FloatArray]
    pump_power: Mapping[str, FloatArray]
    bypass_flow: FloatArray
    rail_pressure_band: FloatArray
    suction_margin: FloatArray
    pump_flow_lost: FloatArray
    over_vapour_limit: Mapping[str, BoolArray]
    engine_state: TextArray
    trim: FloatArray
    mixture: FloatArray
    vapour_lock: BoolArray
    at_stop: AtStop
    tank_heat_flow: FloatArray
    shed_heat: FloatArray
    outlet_temperature: Mapping[str, FloatArray]
    heat_flow: Mapping[str, FloatArray]
    burnt_heat_flow: FloatArray
    by_rail: Mapping[str, RailResult]
    pot_overflow: Mapping[str, FloatArray]
    pot_time: Mapping[str, FloatArray]
    regime: Mapping[str, TextArray]
    outcome: Outcome
    solved: Solved = field(repr=False, compare=False)
    as_solved: CoupledSolution = field(repr=False, compare=False)

    @property
    def headline(self) -> str:
        """Return the layout, how many points solved, and what the engine does."""
        return f"{self.plumbing.layout.title}: {self.outcome.summary()}{self._engine_in_words()}"

    def _engine_in_words(self) -> str:
        states = np.ravel(self.engine_state)
        counts = ((state, int(np.count_nonzero(states == state))) for state in ("lean", "stopped"))
        return "".join(f"; engine {state} at {count}" for state, count in counts if count)

    @takes()
    def while_running(self, values: FloatArray) -> FloatArray:
        """Return values of the points, NaN where the engine is stopped, so that a line drawn through them breaks there.

        Parameters
        ----------
        values : array
            Any quantity in SI, with the shape of the conditions: pressures in Pa, flows in m3/s and so on.

        Returns
        -------
        array
            In the unit of the values.

        Examples
        --------
        >>> import fuelsim as fs
        >>> run = fs.Car.named("finch").system("return").solve(rpm=1000, load=0.0, supply_voltage=[0.0, 13.5])
        >>> run.while_running(run.pressure["rail"]).round(-5).tolist()
        [nan, 300000.0]
        """
        return np.where(self.outcome.code == OutcomeCode.ENGINE_STOPPED, np.nan, values)

    @cached_property
    def before_stop(self) -> Run:
        """The same run with every point whose engine stopped as it was then: pumps on, demand at its speed."""
        if not np.any(self.outcome.code == OutcomeCode.ENGINE_STOPPED):
            return self
        return collect(self.solved, self.conditions, self.as_solved, pumps_cut=False)

    @cached_property
    def second_state(self) -> BoolArray:
        """Whether another solution exists beside the answer, with the shape of the conditions.

        It is the locked one where the engine runs: a car that came from there, hot and with vapour before its pump,
        would stay there. It is solved for when first asked for.
        """
        car, plumbing, fuel, points, from_locked = self.solved
        other = couple(car, plumbing, fuel.tables(), points, from_above=not from_locked)
        known = other.outcome.has_values & self.as_solved.outcome.has_values
        flows = [
            np.asarray(sum(each.mass_flow[link.name] for link in plumbing.supply_links))
            for each in (other, self.as_solved)
        ]
        differs = np.abs(flows[0] - flows[1]) > SECOND_STATE * np.maximum(*np.abs(flows))
        stopped = np.reshape(self.engine_state == EngineState.STOPPED, -1)
        differs |= judge(car, plumbing, points, other).stopped != stopped
        return np.reshape(known & differs, self.conditions.shape)[()]

    @property
    def layout(self) -> str:
        """Name of the layout."""
        return self.plumbing.layout.name

    @property
    def burnt_flow(self) -> FloatArray:
        """Volume flow of the fuel that the engine burns, through all injectors, m3/s."""
        return np.asarray(sum(self.flow[link.name] for link in self.plumbing.injectors))

    @property
    def burnt_mass_flow(self) -> FloatArray:
        """Mass flow of the fuel that the engine burns, through all injectors, kg/s."""
        return np.asarray(sum(self.mass_flow[link.name] for link in self.plumbing.injectors))

    @property
    def supply_mass_flow(self) -> FloatArray:
        """Mass flow out of the tank, kg/s."""
        return np.asarray(sum(self.mass_flow[link.name] for link in self.plumbing.supply_links))

    @property
    def rail_spread(self) -> FloatArray:
        """Greatest less least pressure of the rails over the manifold, Pa; 0 with one rail."""
        differences = np.stack([np.asarray(rail.pressure_difference) for rail in self.by_rail.values()])
        return np.asarray(np.ptp(differences, axis=0))

    @property
    def regulator_regime(self) -> TextArray:
        """Regime of the regulator that holds the rail's pressure, with the shape of the conditions; '' without one."""
        link = self.plumbing.regulator
        return np.asarray(np.full(self.conditions.shape, "") if link is None else self.regime[link.name])

    def to_xarray(self) -> xr.Dataset:
        """Return the result with named axes for the conditions that vary, in SI with units; needs xarray.

        Returns
        -------
        xarray.Dataset

        Raises
        ------
        InputError
            Where xarray is not installed.
        """
        return opener.run_dataset(self)

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per operating point, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame
        """
        return opener.run_table(self, units)

    @takes({"point": whole(0, MOST_POINTS)})
    def plot(self, *others: Run, point: int = 0) -> Figure:
        """Draw pressure, temperature and margin to boiling along the path from the tank to the first rail.

        Parameters
        ----------
        *others : Run
            Further runs of the same shape, such as those of other layouts, a line each.
        point : int
            Number of the operating point, from 0, the last axis fastest.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            For a point that a run does not have.

        Examples
        --------
        >>> import fuelsim as fs
        >>> car = fs.Car.named("finch")
        >>> runs = [car.system(layout).solve(rpm=800, load=0) for layout in car.layouts()]
        >>> runs[0].plot(*runs[1:]).axes[0].get_ylabel()
        'pressure, kPa gauge'
        """
        return opener.path_figure([self, *others], point)


def collect(solved: Solved, conditions: Conditions, solution: CoupledSolution, *, pumps_cut: bool = True) -> Run:
    """Return a coupled solution as a person asks for it.

    Parameters
    ----------
    solved : Solved
        What was solved for.
    conditions : Conditions
        Filled in; the results take its shape.
    solution : CoupledSolution
    pumps_cut : bool, optional
        Whether a point whose engine stops shows the plumbing with the pumps cut; False shows it as it was then.
    """
    car, plumbing, fuel, points, _ = solved
    tables, shape, as_solved = fuel.tables(), conditions.shape, solution
    of = RunValues(car, plumbing, tables, points, solution, pumps_cut)
    solution, judgement = of.solution, of.judgement

    def shaped(value: ArrayLike) -> FloatArray:
        array = np.broadcast_to(value, (len(points),)).reshape(shape)
        return array if shape else array[()]

    def named(what: str, values: Mapping[str, Column]) -> ByName[Column]:
        return ByName(
            what,
            list(values),
            [cast("Column", shaped(cast("FloatArray", value))) for value in values.values()].__getitem__,
            {other: name for other, name in plumbing.also_named.items() if name in values},
        )

    stations = plumbing.fuel_stations
    pressure = np.stack([solution.pressure[name] for name in stations])
    as_liquid = np.stack([solution.temperature[name] for name in stations])
    bubble = of.looked_up(tables.bubble_temperature, pressure)
    # Fuel that stands boils at the temperature around it.
    boiled = np.where(of.at_rest, as_liquid, of.looked_up(tables.temperature_after_drop, as_liquid, pressure))
    beyond_bubble = of.while_running(pressure - of.looked_up(tables.bubble_pressure, as_liquid))
    pressure_margin = dict(zip(stations, beyond_bubble, strict=True))
    over_limit = of.over_vapour_limit()
    gauge = {name: value - points.atmospheric_pressure for name, value in solution.pressure.items()}
    duties = of.injector_duties()
    by_rail = {
        rail.name: RailResult(
            rail.injectors.part.count,
            *(
                shaped(values)
                for values in (
                    solution.pressure[rail.name],
                    gauge[rail.name],
                    solution.pressure[rail.name] - solution.pressure[MANIFOLD],
                    duties[rail.name],
                    of.flow[rail.injectors.name],
                    solution.mass_flow[rail.injectors.name],
                    judgement.by_rail[rail.name].trim,
                    judgement.by_rail[rail.name].mixture,
                )
            ),
        )
        for rail in plumbing.planned_rails
    }
    return Run(
        plumbing=plumbing,
        conditions=replace(conditions, vapour_space_pressure=shaped(points.vapour_space_pressure)),
        pressure=named("station", solution.pressure),
        gauge_pressure=named("station", gauge),
        flow=named("link", of.flow),
        mass_flow=named("link", solution.mass_flow),
        temperature=named("station", dict(zip(stations, boiled, strict=True))),
        vapour_liquid_ratio=named("station", solution.vapour_liquid_ratio),
        vapour_margin=named("station", dict(zip(stations, of.while_running(bubble - as_liquid), strict=True))),
        pressure_margin=named("station", pressure_margin),
        injector_duty=shaped(greatest_at_each_point(list(duties.values()))),
        injector_pressure_difference=shaped(least_rail_difference(plumbing, solution)),
        pump_duty=shaped(points.pump_duty),
        pump_share=named("pump", {name: pump["share"] for name, pump in solution.pump.items()}),
        pump_on=named("pump", {name: pump["share"] > 0.0 for name, pump in solution.pump.items()}),
        pump_stalled=named("pump", {name: pump["stalled"] > 0.0 for name, pump in as_solved.pump.items()}),
        pump_cycles=named("staged pump", solution.cycles),
        pump_voltage=named("pump", {name: pump["terminal_voltage"] for name, pump in solution.pump.items()}),
        pump_current=named("pump", {name: pump["current"] for name, pump in solution.pump.items()}),
        pump_power=named("pump", {name: pump["electrical_power"] for name, pump in solution.pump.items()}),
        bypass_flow=shaped(of.bypass_flow()),
        rail_pressure_band=shaped(of.hysteresis()),
        suction_margin=shaped(of.suction_margin(pressure_margin)),
        pump_flow_lost=shaped(pump_flow_lost(plumbing, solution)),
        over_vapour_limit=named("pump", over_limit),
        engine_state=cast("TextArray", shaped(cast("FloatArray", judgement.state))),
        trim=shaped(judgement.trim),
        mixture=shaped(judgement.mixture),
        vapour_lock=cast("BoolArray", shaped(judgement.locked)),
        at_stop=judgement.at_stop.mapped(shaped),
        tank_heat_flow=shaped(of.tank_heat_flow()),
        shed_heat=shaped(of.shed_heat()),
        outlet_temperature=named("link", solution.outlet_temperature),
        heat_flow=named("link", heat_flows(plumbing, tables, points, solution)),
        burnt_heat_flow=shaped(burnt_heat_flow(plumbing, tables, points, solution)),
        by_rail=ByName("rail", list(by_rail), list(by_rail.values()).__getitem__),
        pot_overflow=named("pot", of.pot_overflow),
        pot_time=named("pot", of.pot_times),
        regime=named("link", solution.regime),
        outcome=of.outcome(over_limit).mapped(shaped),
        solved=solved,
        as_solved=as_solved,
    )
