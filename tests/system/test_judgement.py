"""What the engine makes of a solution, with figures put into one, and what drives its pumps."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.outcome import OutcomeCode
from fuelsim.system.conditions import Conditions
from fuelsim.system.judgement import judge, least_rail_difference, pump_flow_lost
from fuelsim.system.link_heat import burnt_heat_flow, heat_flows
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.pump_drive import (
    _viscosity,
    inlet_superheat,
    pump_drive,
    running_pumps,
    staged_by_demand,
    staged_by_pressure,
)


@pytest.fixture(scope="module")
def run():
    return fs.Car.named("plover").system("pot").solve(rpm=[850.0, 3000.0, 6000.0], load=0.3)


def changed(solution, **tables):
    for table, rows in tables.items():
        solution = dataclasses.replace(solution, **{table: {**getattr(solution, table), **rows}})
    return solution


def judged(run, **tables):
    car, plumbing, _, points, _ = run.solved
    return judge(car, plumbing, points, changed(run.as_solved, **tables))


def test_the_engine_is_judged_by_its_leanest_rail(run):
    """Half and four fifths of what is asked for are mixtures of 2 and 1.25 times the one asked for."""
    demand = 0.5 * run.solved.points.fuel_mass_flow
    limit = run.solved.car.engine.lean_limit
    made = judged(
        run, mass_flow={"left_rail_injectors": demand * [1.0, 0.8, 1.0], "right_rail_injectors": demand * [1, 1, 0.5]}
    )
    assert made.mixture == pytest.approx([1.0, 1.25, 2.0])
    assert made.by_rail["left_rail"].mixture == pytest.approx([1.0, 1.25, 1.0])
    assert made.by_rail["right_rail"].mixture == pytest.approx([1.0, 1.0, 2.0])
    assert 1.25 < limit < 2.0
    assert made.state.tolist() == ["fed", "lean", "stopped"]
    assert made.stopped.tolist() == [False, False, True]
    assert made.trim[1] == made.by_rail["left_rail"].trim[1]
    assert made.trim[2] == made.by_rail["right_rail"].trim[2]
    # Of the state it stopped in only the stopped point has one.
    assert np.isnan(made.at_stop.mixture).tolist() == [True, True, False]
    assert made.at_stop.mixture[2] == pytest.approx(2.0)
    assert made.at_stop.tank_temperature[2] == run.solved.points.tank_temperature[2]


def test_a_rail_that_stands_lower_than_assumed_over_its_manifold_asks_for_longer_pulses(run):
    """300 kPa assumed: at 300 kPa/1.21 the same fuel takes 1.1 times the pulse, by the square root."""
    made = judged(
        run,
        mass_flow={"left_rail_injectors": 0.5 * run.solved.points.fuel_mass_flow},
        pressure={"left_rail": run.as_solved.pressure["manifold"] + 300e3 / np.array([1.0, 1.21, 1.0])},
        vapour_liquid_ratio={"left_rail": np.zeros(3)},
    )
    assert made.by_rail["left_rail"].trim == pytest.approx([0.0, 0.1, 0.0], abs=1e-9)


def test_the_state_of_a_stop_is_that_of_the_rail_with_least_and_the_pump_with_most_gas(run):
    plumbing, points = run.solved.plumbing, run.solved.points
    manifold = run.as_solved.pressure["manifold"]
    tables = {
        "mass_flow": {"left_rail_injectors": np.full(3, 1e-6)},
        "pressure": {"left_rail": manifold + 50e3, "right_rail": manifold + np.array([40e3, 60e3, 70e3])},
        "vapour_liquid_ratio": {"lift_inlet": np.array([0.0, 0.3, 0.0]), "pot": np.array([0.2, 0.1, 0.0])},
    }
    made = judged(run, **tables).at_stop
    assert made.rail_pressure_difference == pytest.approx([40e3, 50e3, 50e3])
    assert made.rail_gauge_pressure == pytest.approx(
        manifold - points.atmospheric_pressure + np.array([40e3, 50e3, 50e3])
    )
    assert made.vapour_liquid_ratio == pytest.approx([0.2, 0.3, 0.0])
    # Both main pumps bring fuel to the rails, the lift pump none.
    flow = sum(run.as_solved.mass_flow[name] / run.as_solved.density[name] for name in ("left_pump", "right_pump"))
    assert made.flow == pytest.approx(flow)
    solution = changed(run.as_solved, **tables)
    assert least_rail_difference(plumbing, solution) == pytest.approx([40e3, 50e3, 50e3])
    shares = [
        [link.part.vapour_flow_share(r) for r in solution.vapour_liquid_ratio[link.upstream]] for link in plumbing.pumps
    ]
    assert pump_flow_lost(plumbing, solution) == pytest.approx(1.0 - np.min(np.array(shares, dtype=float), axis=0))


def test_gas_is_the_cause_of_a_stop_from_a_twentieth_of_a_pump_s_flow_on(run):
    """V/L at which 4.8 % and 5.2 % of the flow are lost, found on the pump's own law."""
    pump = run.solved.plumbing.pumps[1].part
    ratios = np.linspace(0.0, 1.0, 200_001)
    lost = 1.0 - np.asarray(pump.vapour_flow_share(ratios))
    ratio = np.interp([0.048, 0.052, 0.052], lost, ratios)
    made = judged(
        run,
        mass_flow={"left_rail_injectors": np.array([1e-6, 1e-6, 1.0])},
        vapour_liquid_ratio={"lift_inlet": np.zeros(3), "pot": ratio},
    )
    assert made.locked.tolist() == [False, True, False]


def test_a_failed_point_is_not_judged(run):
    outcome = dataclasses.replace(run.as_solved.outcome, code=np.array([0, int(OutcomeCode.NOT_CONVERGED), 0]))
    car, plumbing, _, points, _ = run.solved
    flow = {**run.as_solved.mass_flow, "left_rail_injectors": np.array([1.0, np.nan, 1.0])}
    made = judge(car, plumbing, points, dataclasses.replace(run.as_solved, outcome=outcome, mass_flow=flow))
    assert made.state.tolist() == ["fed", "", "fed"]
    assert np.isnan(made.mixture).tolist() == [False, True, False]
    assert made.locked.tolist() == [False, False, False]


def test_heat_of_the_links_is_what_comes_back_and_what_is_burnt(run):
    """First law over the plumbing: what all links take in is carried back to the tank or burnt. The pot, which keeps
    nothing to itself, has a conductance to the air that is counted by its own warming."""
    car, plumbing, fuel, points, _ = run.solved
    bare = car.with_values({"pots.pot.heat_conductance": 0.0}).system("pot")
    run = bare.solve(rpm=[850.0, 3000.0, 6000.0], load=0.3)
    car, plumbing, fuel, points, _ = run.solved
    taken = heat_flows(plumbing, fuel.tables(), points, run.as_solved)
    burnt = burnt_heat_flow(plumbing, fuel.tables(), points, run.as_solved)
    back = sum(
        run.as_solved.mass_flow[link.name]
        * fuel.tables().heat_capacity(points.tank_temperature)
        * (run.as_solved.outlet_temperature[link.name] - points.tank_temperature)
        for link in plumbing.return_links
    )
    injected = sum(taken[link.name] for link in plumbing.injectors)
    assert sum(taken.values()) - injected == pytest.approx(back + burnt, rel=2e-3)
    assert np.all(taken["left_pump"] > 20.0)
    # Throttling takes up no heat.
    assert taken["rail_end"] == pytest.approx(np.zeros(3), abs=1e-3)


def points_of(car, layout, **conditions):
    system = car.system(layout)
    return system.plumbing, OperatingPoints.of(system.car, system.fuel, system.filled(Conditions(**conditions)))


def test_each_pump_has_its_own_wire_and_the_asked_share_of_the_time():
    car = fs.Car.named("plover")
    plumbing, points = points_of(car, "pot", rpm=[1000.0, 2000.0], pump_duty=[1.0, 0.6], supply_voltage=[13.0, 12.0])
    for link in plumbing.pumps:
        drive = pump_drive(plumbing, link, points)
        assert drive.supply_voltage.tolist() == [13.0, 12.0]
        assert drive.duty.tolist() == [1.0, 0.6]
        assert drive.resistance == plumbing.wires[link.name].resistance
        assert drive.speed.tolist() == [0.0, 0.0]
    assert plumbing.wires["lift"].resistance > 1.5 * plumbing.wires["left_pump"].resistance


def test_steps_act_on_the_car_s_plain_pump():
    """A resistor of 0.5 ohm in its wire, a share of the time and a speed instead of those that were asked."""
    finch = fs.Car.named("finch")
    plumbing, points = points_of(finch, "return", rpm=[1000.0, 6000.0], load=[0.0, 1.0])
    points = dataclasses.replace(
        points,
        pump_resistance=np.array([0.5, 0.0]),
        pump_duty=np.array([0.7, 1.0]),
        asked_duty=np.array([0.9, 0.9]),
        pump_speed=np.array([4000.0, 0.0]),
    )
    drive = pump_drive(plumbing, plumbing.pumps[0], points)
    assert drive.resistance - finch.wire.resistance == pytest.approx([0.5, 0.0])
    assert (drive.duty.tolist(), drive.speed.tolist()) == ([0.7, 1.0], [4000.0, 0.0])


def test_a_pump_that_is_staged_off_has_no_supply():
    car = fs.Car.named("plover")
    plumbing, points = points_of(car, "pot", rpm=[1000.0, 2000.0])
    tables = car.fuel.fuel().tables()
    on = running_pumps(plumbing, tables, points, {})
    staged = running_pumps(plumbing, tables, points, {"left_pump": np.array([True, False])})
    flow, rise = np.full(2, 1e-5), np.full(2, 1e5)
    current = [np.asarray(pumps["left_pump"].operating(flow, rise).current) for pumps in (on, staged)]
    assert current[1][0] == pytest.approx(current[0][0])
    assert current[1][1] == 0.0
    assert np.asarray(staged["right_pump"].operating(flow, rise).current) == pytest.approx(current[0])


def test_pumps_that_share_an_inlet_boil_there_with_the_least_superheat_of_them():
    car = fs.Car.named("plover").with_values(
        {"pumps.left_pump.inlet_superheat": "3 K", "pumps.right_pump.inlet_superheat": "1 K"}
    )
    plumbing = car.system("pot").plumbing
    superheat = inlet_superheat(plumbing)
    assert superheat[plumbing.stations.index("pot")].tolist() == [1.0]
    lift = plumbing.link("lift")
    assert superheat[plumbing.stations.index("lift_inlet")].tolist() == [float(lift.part.inlet_superheat)]
    others = [name not in ("pot", "lift_inlet") for name in plumbing.stations]
    assert not np.any(superheat[others])


def staged(**thresholds):
    """Return plumbing, points and tables of a car whose right pump is added where it is needed."""
    car = fs.Car.named("plover").with_values({"pump_stages.right_pump": fs.PumpStage(**thresholds)})
    plumbing, points = points_of(car, "pot", rpm=[1000.0, 2000.0, 3000.0])
    return plumbing, points, car.fuel.fuel().tables()


def test_a_second_pump_is_added_by_demand_or_by_the_manifold_s_pressure():
    """On from 60 L/h on, off below 40 L/h, between them as before; the demand in litres of fuel of the tank."""
    plumbing, points, tables = staged(demand_on="60 L/h", demand_off="40 L/h")
    density = tables.density(points.tank_temperature)
    for before, states in ((False, [False, False, True]), (True, [False, True, True])):
        asked = dataclasses.replace(
            points,
            fuel_mass_flow=np.array([39.0, 50.0, 61.0]) / 3.6e6 * density,
            staged_before=np.full(3, before),
        )
        assert staged_by_demand(plumbing, tables, asked)["right_pump"].tolist() == states
    plumbing, points, tables = staged(manifold_pressure_on="90 kPa", manifold_pressure_off="70 kPa")
    there = dataclasses.replace(
        points, manifold_pressure=np.array([69e3, 80e3, 91e3]), staged_before=np.array([True, False, False])
    )
    assert staged_by_demand(plumbing, tables, there)["right_pump"].tolist() == [False, False, True]


def test_a_second_pump_is_added_by_the_rail_s_pressure_above_the_atmosphere():
    """On below 280 kPa, off above 310 kPa; a point that failed has too low a pressure."""
    plumbing, points, tables = staged(pressure_on="280 kPa", pressure_off="310 kPa")
    first = staged_by_demand(plumbing, tables, dataclasses.replace(points, staged_before=np.array([True, False, True])))
    assert first["right_pump"].tolist() == [True, False, True]
    sensor = plumbing.stages["right_pump"].sensor
    for gauge, ran, states in (
        ([279e3, 295e3, 311e3], False, [True, False, False]),
        ([279e3, 295e3, 311e3], True, [True, True, False]),
        ([np.nan, 295e3, 281e3], False, [True, False, False]),
    ):
        pressure = {sensor: points.atmospheric_pressure + np.array(gauge)}
        after = staged_by_pressure(plumbing, points, pressure, {"right_pump": np.full(3, ran)})
        assert after["right_pump"].tolist() == states
    by_demand, there, _ = staged(demand_on="60 L/h", demand_off="40 L/h")
    kept = {"right_pump": np.array([True, False, True])}
    assert staged_by_pressure(by_demand, there, {}, kept)["right_pump"].tolist() == [True, False, True]


def test_fuel_is_thicker_in_the_cold_by_its_own_kinematic_viscosity():
    """Judge: the fuel's own viscosity and density at -20 and 20 degC; the tables hold a tenth of a per cent."""
    fuel = fs.Fuel.named("summer_e10")
    curve = _viscosity(fuel.tables())
    cold, mild = (fuel.viscosity(kelvin) / fuel.density(kelvin) for kelvin in (253.15, 293.15))
    assert np.interp([253.15, 293.15], curve.temperature, curve.log_ratio) == pytest.approx(
        [np.log(cold / mild), 0.0], abs=2e-3
    )


def test_pumps_of_different_points_are_those_that_each_would_have_alone():
    """Supply, duty and wear differ from point to point, and two points are alike."""
    system = fs.Car.named("plover").system("pot")
    given = {
        "rpm": [1000.0] * 4,
        "supply_voltage": [13.0, 11.0, 13.0, 13.0],
        "pump_duty": [1.0, 1.0, 0.8, 1.0],
        "pump_wear": [0.0, 0.1, -0.05, 0.0],
    }
    run = system.solve(fs.Conditions(**given))
    alone = [
        system.solve(fs.Conditions(**{name: values[point] for name, values in given.items()})) for point in range(3)
    ]
    for name in ("left_pump", "lift"):
        current, flow = np.asarray(run.pump_current[name]), np.asarray(run.flow[name])
        assert current[:3] == pytest.approx([float(each.pump_current[name]) for each in alone], rel=1e-4)
        assert flow[:3] == pytest.approx([float(each.flow[name]) for each in alone], rel=1e-4)
        assert (current[3], flow[3]) == pytest.approx((current[0], flow[0]), rel=1e-6)
        assert flow[1] < 0.95 * flow[0]
