"""A car plumbed in one layout, and what comes out when it is run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener
from fuelsim.car.rating_lists import rating_shape, spread
from fuelsim.errors import InputError, SolveError
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.laws.motor import vapour_flow_factor
from fuelsim.network.state import ByName
from fuelsim.outcome import Outcome
from fuelsim.system.conditions import Conditions
from fuelsim.system.coupling import CoupledSolution, couple
from fuelsim.system.exchange import heating_per_pressure_lost
from fuelsim.system.layouts import Plumbing, plumb

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.car.car import Car
    from fuelsim.car.engine import EngineDemand
    from fuelsim.fuel.fuel import Fuel

__all__ = ["Run", "System"]


@dataclass(frozen=True)
class Run:
    """Results of one layout at every operating point; every array has the shape of the conditions.

    Attributes
    ----------
    layout : str
        Name of the layout.
    conditions : Conditions
        What was asked, with the car's own values filled in.
    pressure, gauge_pressure : mapping of node to array
        Pa absolute, and Pa above the atmosphere.
    flow : mapping of link to array
        Volume flow at the liquid's local density, m3/s.
    mass_flow : mapping of link to array
        kg/s.
    temperature : mapping of node to array
        K; where fuel boils, the bubble temperature at the local pressure.
    vapour_liquid_ratio : mapping of node to array
        Volume of vapour per volume of liquid, after an isenthalpic drop from the last all-liquid state.
    vapour_margin : mapping of node to array
        K from the local temperature to the bubble temperature at the local pressure; negative where fuel boils, then
        counted from the temperature the fuel would have if it were still liquid.
    pressure_margin : mapping of node to array
        Pa from the bubble pressure at the local temperature to the local pressure.
    injector_duty : array
        Fraction of the time an injector is open; 1 is held open.
    injector_pressure_difference : array
        Rail minus manifold, Pa.
    pump_duty : array
        Share of the time the pump is switched on: as asked, times what the car's pump steps make of it.
    pump_voltage, pump_current, pump_power : mapping of pump to array
        V at the terminals, A, and W of electrical power; voltage and current while it is switched on.
    bypass_flow : array
        Flow through the regulator back to the tank, m3/s.
    rail_pressure_band : array
        How far above and below the solved pressure the rail may stand because of the regulator's hysteresis, Pa; 0
        where it does not regulate.
    suction_margin : array
        Pressure margin at the pump's inlet beyond the NPSH the pump requires, Pa: negative is noise and wear, which
        is another threshold than loss of flow.
    pump_flow_lost : array
        Share of the pump's flow lost to gas and vapour at its inlet, 0 to 1.
    tank_heat_flow : array
        Heat that the returning fuel brings into the tank, W.
    regime : mapping of link to array of str
        What each part does.
    outcome : Outcome
        Per operating point.
    """

    layout: str
    conditions: Conditions
    pressure: Mapping[str, Any]
    gauge_pressure: Mapping[str, Any]
    flow: Mapping[str, Any]
    mass_flow: Mapping[str, Any]
    temperature: Mapping[str, Any]
    vapour_liquid_ratio: Mapping[str, Any]
    vapour_margin: Mapping[str, Any]
    pressure_margin: Mapping[str, Any]
    injector_duty: Any
    injector_pressure_difference: Any
    pump_duty: Any
    pump_voltage: Mapping[str, Any]
    pump_current: Mapping[str, Any]
    pump_power: Mapping[str, Any]
    bypass_flow: Any
    rail_pressure_band: Any
    suction_margin: Any
    pump_flow_lost: Any
    tank_heat_flow: Any
    regime: Mapping[str, Any]
    outcome: Outcome

    def table(self, units: str | None = None) -> pd.DataFrame:
        """Return one row per operating point, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.run_table(self, units)


@dataclass(frozen=True)
class System:
    """A car plumbed in one layout.

    Attributes
    ----------
    car : Car
        The car.
    layout : str
        ``"return"``, ``"returnless_tank"`` or ``"returnless_bay"``.
    fuel_in_tank : Fuel, optional
        Another fuel than the car's own, such as what is left of it after hours in a hot tank.
    """

    car: Car
    layout: str
    fuel_in_tank: Fuel | None = None
    plumbing: Plumbing = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "plumbing", plumb(self.car, self.layout))

    @cached_property
    def fuel(self) -> Fuel:
        """The fuel in the tank."""
        return self.car.fuel.fuel() if self.fuel_in_tank is None else self.fuel_in_tank

    def solve(
        self,
        conditions: Conditions | None = None,
        *,
        rpm: Any = None,
        load: Any = None,
        tank_temperature: Any = None,
        air_temperature: Any = None,
        altitude: Any = None,
        supply_voltage: Any = None,
        raise_on_failure: bool = False,
    ) -> Run:
        """Run the system at one or many operating points.

        Ratings of the car's lines, filters, regulators, injectors and wire may be lists: each entry is then an
        operating point, and the lists broadcast with the conditions.

        Parameters
        ----------
        conditions : Conditions, optional
            All conditions at once; then none of the following is given.
        rpm, load, tank_temperature, air_temperature, altitude, supply_voltage : optional
            As in `Conditions`; numbers, text with a unit, or arrays that broadcast. `load` is 1 if left out,
            the others the car's own.
        raise_on_failure : bool
            Raise `SolveError` if any point fails.

        Returns
        -------
        Run
            Failed points are NaN in every result, with their reason in ``outcome``.

        Raises
        ------
        InputError
            For wrong conditions.
        SolveError
            On request.

        Examples
        --------
        >>> import fuelsim as fs
        >>> run = fs.Car.named("finch").system("return").solve(rpm=[1000, 6000], tank_temperature="40 degC")
        >>> bool(run.bypass_flow[0] > run.bypass_flow[1])
        True
        """
        given = {
            "rpm": rpm,
            "load": load,
            "tank_temperature": tank_temperature,
            "air_temperature": air_temperature,
            "altitude": altitude,
            "supply_voltage": supply_voltage,
        }
        given = {name: value for name, value in given.items() if value is not None}
        if conditions is None:
            if rpm is None:
                raise InputError("no engine speed", accepted="rpm=..., or conditions", part="solve", key="rpm")
            conditions = Conditions(**given)
        elif given:
            raise InputError(
                "conditions and single values together",
                given=", ".join(given),
                accepted="one or the other",
                part="solve",
            )
        conditions = conditions.filled(self._defaults(conditions))
        return self._spread_over(conditions)._run(conditions.spread(self._shape(conditions)), raise_on_failure)

    def _shape(self, conditions: Conditions) -> tuple[int, ...]:
        """Return the shape of the operating points that conditions and lists of ratings make together."""
        ratings = rating_shape(self.car)
        try:
            return np.broadcast_shapes(conditions.shape, ratings)
        except ValueError:
            raise InputError(
                f"ratings of shape {ratings} and conditions of shape {conditions.shape} do not broadcast",
                accepted="equal lengths, or conditions with a last axis as long as the lists of ratings",
                part="solve",
            ) from None

    def _spread_over(self, conditions: Conditions) -> System:
        """Return the system with one value of each listed rating, and of the filter's clogging, per operating point."""
        shape = self._shape(conditions)
        car = spread(self.car, shape)
        if conditions.filter_clogging is not None:
            clogging = np.broadcast_to(conditions.filter_clogging, shape).reshape(-1)
            car = replace(car, filter=replace(car.filter, clogging=clogging))
        return self if car is self.car else System(car, self.layout, self.fuel)

    def _defaults(self, conditions: Conditions) -> dict[str, Any]:
        surroundings = self.car.surroundings
        air = surroundings.air_temperature if conditions.air_temperature is None else conditions.air_temperature
        tank = surroundings.tank_temperature
        return {
            "air_temperature": air,
            "tank_temperature": air if tank is None else tank,
            "supply_voltage": self.car.supply_voltage(conditions.rpm),
            "altitude": surroundings.altitude,
        }

    def _run(self, conditions: Conditions, raise_on_failure: bool) -> Run:
        shape = conditions.shape
        points = conditions.points()
        fuel = self.fuel
        atmosphere = standard_pressure(points["altitude"])
        demand = self.car.engine.demand(
            points["rpm"],
            points["load"],
            stoichiometric_air_fuel_ratio=fuel.stoichiometric_air_fuel_ratio,
            atmospheric_pressure=atmosphere,
            air_temperature=points["air_temperature"],
        )
        tables = fuel.tables()
        burnt = demand.fuel_mass_flow / tables.density(points["tank_temperature"])
        if conditions.vapour_space_pressure is None:
            points["vapour_space_pressure"] = self.car.tank.gauge_pressure(burnt)
            conditions = replace(conditions, vapour_space_pressure=points["vapour_space_pressure"].reshape(shape))
        car, points = self._stepped(points, burnt)
        solution = couple(
            car,
            self.plumbing,
            tables,
            points
            | {
                "atmospheric_pressure": atmosphere,
                "manifold_pressure": demand.manifold_pressure,
                "fuel_mass_flow": demand.fuel_mass_flow,
            },
        )
        if raise_on_failure and not np.all(solution.outcome.converged):
            raise SolveError(solution.outcome.summary(), solution.outcome)
        return self._results(conditions, shape, points, atmosphere, demand, solution)

    def _stepped(self, points: dict[str, Any], burnt: Any) -> tuple[Car, dict[str, Any]]:
        """Return the car and the points with what the pump's controller does at the volume of fuel burnt, m3/s."""
        car, steps = self.car, self.car.pump_steps
        points = points | {"pump_speed": np.full(np.shape(burnt), car.pump.bench_speed or 0.0)}
        if steps is None:
            return car, points
        points["pump_duty"] = points["pump_duty"] * steps.duty_at(burnt)
        points["pump_speed"] = steps.speed_at(burnt, points["pump_speed"])
        resistance = steps.resistance_at(burnt)
        if np.any(resistance > 0.0):
            car = replace(car, wire=replace(car.wire, other=car.wire.other + resistance))
        return car, points

    def _shed_by_pump(self, solution: CoupledSolution, tank_temperature: Any) -> Any:
        """Return the heat that a submerged pump's body gives to the fuel around it, W."""
        tables = self.fuel.tables()
        rise = solution.pressure["pump_outlet"] - solution.pressure["pump_inlet"]
        warming = solution.outlet_temperature["pump"] - solution.temperature["pump_inlet"]
        by_heat = warming + heating_per_pressure_lost(tables, tank_temperature) * rise
        carried = solution.mass_flow["pump"] * tables.heat_capacity(tank_temperature) * by_heat
        return self.car.pump.heat_into_fuel * solution.pump["electrical_power"] - carried

    def _hysteresis(self, solution: CoupledSolution) -> Any:
        """Return half the regulator's hysteresis where it regulates, 0 elsewhere, NaN where nothing is known; Pa."""
        regulator: Any = next(link.part for link in self.plumbing.links if link.name == "regulator")
        half = 0.5 * np.asarray(regulator.hysteresis)
        regime = solution.regime["regulator"]
        return np.where(solution.outcome.converged, np.where(regime == "regulating", half, 0.0), np.nan)

    def _results(
        self,
        conditions: Conditions,
        shape: tuple[int, ...],
        points: dict[str, Any],
        atmosphere: Any,
        demand: EngineDemand,
        solution: CoupledSolution,
    ) -> Run:
        tables = self.fuel.tables()

        def shaped(value: Any) -> Any:
            array = np.broadcast_to(value, (int(np.prod(shape)),)).reshape(shape)
            return array if shape else array[()]

        def named(what: str, values: dict[str, Any]) -> ByName:
            return ByName(what, list(values), [shaped(value) for value in values.values()].__getitem__)

        solved = solution.outcome.converged

        def property_of(table: Any, values: Any) -> Any:
            """Look up solved points only: failed ones are NaN and stay so."""
            return np.where(solved, table(np.where(solved, values, 300.0)), np.nan)

        fuel_nodes = [name for name in solution.pressure if name != "manifold"]
        pressure = np.stack([solution.pressure[name] for name in fuel_nodes])
        as_liquid = np.stack([solution.temperature[name] for name in fuel_nodes])
        bubble_temperature = property_of(tables.bubble_temperature, pressure)
        margin = bubble_temperature - as_liquid
        pressure_margin = pressure - property_of(tables.bubble_pressure, as_liquid)
        by_node = {
            "temperature": np.minimum(as_liquid, bubble_temperature),
            "vapour_margin": margin,
            "pressure_margin": pressure_margin,
        }
        node_results = {
            key: named("station", dict(zip(fuel_nodes, values, strict=True))) for key, values in by_node.items()
        }
        flow = {name: mass / solution.density[name] for name, mass in solution.mass_flow.items()}
        difference = solution.pressure["rail"] - solution.pressure["manifold"]
        injectors = replace(self.car.injectors, vapour_liquid_ratio=np.nan_to_num(solution.vapour_liquid_ratio["rail"]))
        duty = injectors.duty(
            solution.mass_flow["injectors"],
            difference,
            solution.density["injectors"],
            points["rpm"],
            points["supply_voltage"],
        )
        inlet = fuel_nodes.index("pump_inlet")
        back = "return_line" if "return_line" in solution.mass_flow else "regulator"
        capacity = property_of(tables.heat_capacity, solution.outlet_temperature[back])
        heat = solution.mass_flow[back] * capacity * (solution.outlet_temperature[back] - points["tank_temperature"])
        if self.car.pump.mounting == "in_tank":
            heat = heat + self._shed_by_pump(solution, points["tank_temperature"])
        inlet_vapour = solution.vapour_liquid_ratio["pump_inlet"]
        gauge = {name: value - atmosphere for name, value in solution.pressure.items()}
        values = vars(solution.outcome) | {"reason": vapour_notes(solution, self.car.pump.tolerated_vapour)}
        outcome = Outcome(**{name: shaped(value) for name, value in values.items()})
        return Run(
            layout=self.layout,
            conditions=conditions,
            pressure=named("station", solution.pressure),
            gauge_pressure=named("station", gauge),
            flow=named("link", flow),
            mass_flow=named("link", solution.mass_flow),
            vapour_liquid_ratio=named("station", solution.vapour_liquid_ratio),
            injector_duty=shaped(duty),
            injector_pressure_difference=shaped(difference),
            pump_duty=shaped(points["pump_duty"]),
            pump_voltage=named("pump", {"pump": solution.pump["terminal_voltage"]}),
            pump_current=named("pump", {"pump": solution.pump["current"]}),
            pump_power=named("pump", {"pump": solution.pump["electrical_power"]}),
            bypass_flow=shaped(flow["regulator"]),
            rail_pressure_band=shaped(self._hysteresis(solution)),
            suction_margin=shaped(pressure_margin[inlet] - self.car.pump.npsh_required),
            pump_flow_lost=shaped(1.0 - vapour_flow_factor(inlet_vapour, self.car.pump.tolerated_vapour)),
            tank_heat_flow=shaped(heat),
            regime=named("link", solution.regime),
            outcome=outcome,
            **node_results,
        )


def vapour_notes(solution: CoupledSolution, tolerated: float) -> Any:
    """Return the reason of each point, with what vapour does to those that solved.

    Vapour lock is a pump that sucks more vapour than it tolerates, or starves the injectors while it sucks vapour.
    """
    ratio, regime = solution.vapour_liquid_ratio["pump_inlet"], solution.regime
    solved = solution.outcome.converged
    sucks = solved & (np.nan_to_num(ratio) > 1e-3)
    locked = sucks & ((np.nan_to_num(ratio) > tolerated) | (regime["injectors"] == "saturated"))
    reason = np.array(solution.outcome.reason, dtype=object)
    for point in np.flatnonzero(sucks):
        said = f"{ratio[point]:.2g} volumes of gas per volume of fuel at the pump's inlet"
        reason[point] = f"vapour lock: {said}" if locked[point] else f"vapour takes flow from the pump: {said}"
    return reason
