"""The plumbing at rest, by hydrostatics and the fuel's bubble point, and the heat of the injectors' coils."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.system.coil_heat import CoilHeat, coil_heat
from fuelsim.system.conditions import Conditions
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.pump_off import pump_off, standing_groups

G = 9.80665
ATMOSPHERE = 101325.0


def names_of(groups, *stations):
    """Return in which group each of some stations is, by number."""
    return [next(number for number, group in enumerate(groups) if name in group) for name in stations]


def test_valves_pumps_with_valves_regulators_and_injectors_part_what_stands():
    """By hand: behind the check valves of the main pumps up to the regulator all is one; the rest is with a vessel."""
    groups = standing_groups(fs.Car.named("plover").system("pot").plumbing)
    with_vessel = [bool(group & {"tank", "pot"}) for group in groups]
    assert with_vessel == sorted(with_vessel, reverse=True)
    tee, rail, rear = names_of(groups, "tee", "right_rail", "left_rear")
    assert tee == rail == rear
    pot, back, left = names_of(groups, "pot", "rail_end_outlet", "left_pump_outlet")
    assert pot == back == left != tee
    assert names_of(groups, "manifold")[0] not in (tee, pot)
    assert sum(len(group) for group in groups) == len(fs.Car.named("plover").system("pot").plumbing.stations)
    valved = fs.Car.named("plover").with_values({"pumps.left_pump.check_valve": True})
    pot, left = names_of(standing_groups(valved.system("pot").plumbing), "pot", "left_pump_outlet")
    assert pot != left


def test_the_group_with_the_tank_comes_first_in_whatever_order_the_runs_are_listed():
    car = fs.Car.named("plover")
    turned = car.with_plumbing("turned", runs=list(reversed(car.plumbing["no_pot"].runs)))
    assert "tank" in standing_groups(turned.system("turned").plumbing)[0]


def stopped(car, layout, **conditions):
    """Return points, plumbing, tables and the solution whose engine stopped at the first of two points."""
    given = {"rpm": [1000.0, 3000.0], "load": 0.3, "tank_temperature": 300.0, "air_temperature": 300.0} | conditions
    run = car.system(layout).solve(Conditions(**given))
    car, plumbing, fuel, points, _ = run.solved
    tables = fuel.tables()
    where = np.array([True, False])
    return run, plumbing, points, tables, pump_off(car, plumbing, tables, points, run.as_solved, where)


@pytest.fixture(scope="module")
def finch():
    """With a check valve in the pump, which keeps what is behind it."""
    car = fs.Car.named("finch").with_values({"pump.check_valve": True})
    return stopped(car, "return", bay_temperature=310.0, vapour_space_pressure=3000.0)


def test_nothing_flows_and_no_pump_takes_current_where_the_engine_stopped(finch):
    run, plumbing, _, _, at_rest = finch
    for link in plumbing.links:
        assert at_rest.mass_flow[link.name][0] == 0.0
        assert at_rest.mass_flow[link.name][1] == run.as_solved.mass_flow[link.name][1]
    assert all(column[0] == 0.0 for column in at_rest.pump["pump"].values())
    assert at_rest.pump["pump"]["current"][1] == run.as_solved.pump["pump"]["current"][1] > 1.0
    regimes = {name: regime[0] for name, regime in at_rest.regime.items()}
    assert regimes["pump"] == "stopped"
    assert (regimes["feed"], regimes["strainer"], regimes["return_line"]) == ("flowing",) * 3
    assert (regimes["injectors"], regimes["regulator"]) == ("shut", "shut")
    assert at_rest.regime["pump"][1] == run.as_solved.regime["pump"][1] != "stopped"


def test_what_an_open_way_joins_to_the_tank_stands_in_balance_with_its_level(finch):
    """The level is at 22/45 of 0.22 m; the pump's inlet at 0.03 m, the regulator's outlet at 0.55 m."""
    _, plumbing, points, tables, at_rest = finch
    level = 22.0 / 45.0 * 0.22
    for name, height in (("pump_inlet", 0.03), ("return_inlet", 0.55), ("tank", level)):
        density = float(tables.density(at_rest.temperature[name])[0])
        head = ATMOSPHERE + 3000.0 + G * density * (level - height)
        assert at_rest.pressure[name][0] == pytest.approx(head, abs=0.1)
    assert at_rest.pressure["manifold"][0] == pytest.approx(ATMOSPHERE)
    assert at_rest.pressure["manifold"][1] < 0.9 * ATMOSPHERE
    assert points.tank_pressure[0] == pytest.approx(ATMOSPHERE + 3000.0)
    assert plumbing.heights["tank"] == pytest.approx(level)


def test_fuel_shut_in_keeps_the_pressure_at_which_the_engine_stopped(finch):
    run, _, _, tables, at_rest = finch
    for name in ("pump_outlet", "filter_outlet", "rail_inlet", "rail"):
        assert at_rest.pressure[name][0] == run.as_solved.pressure[name][0]
        assert at_rest.pressure[name][0] > tables.bubble_pressure(at_rest.temperature[name])[0]
        assert at_rest.vapour_liquid_ratio[name][0] == 0.0
    # It has come to the temperature of what is around: air under the floor, and bay and metal at the rail.
    assert at_rest.temperature["rail"][0] == pytest.approx((0.75 * 310.0 + 0.45 * 368.15) / 1.2, abs=0.1)
    assert at_rest.density["feed"][0] == pytest.approx(float(tables.density(at_rest.outlet_temperature["feed"])[0]))
    assert at_rest.outlet_temperature["feed"][0] == pytest.approx(310.0, abs=0.1)


def test_fuel_shut_in_boils_up_to_its_bubble_pressure_and_is_spilled_at_the_set_pressure():
    """At 110 degC it would have far more than the 300 kPa above the atmosphere at which the regulator opens; in a car
    without one, cold until then, all of the shut-in stations come to the highest bubble pressure among them."""
    car = fs.Car.named("finch").with_values({"rail.engine_conductance": 0.0, "pump.check_valve": True})
    run, _, _, tables, at_rest = stopped(car, "return", bay_temperature=383.15)
    holds = float(tables.bubble_pressure(383.15))
    assert holds > 300e3 + ATMOSPHERE
    limit = max(300e3 + ATMOSPHERE, float(run.as_solved.pressure["rail"][0]))
    assert at_rest.pressure["rail"][0] == pytest.approx(limit)
    assert at_rest.vapour_liquid_ratio["rail"][0] > 1.0
    bare = car.with_plumbing("bare", runs=[["tank", "pump", "filter", "feed", "rail"]])
    run, plumbing, points, tables, at_rest = stopped(bare, "bare", bay_temperature=383.15)
    low = {name: np.full(2, 150e3) for name in run.as_solved.pressure}
    fallen = dataclasses.replace(run.as_solved, pressure=low)
    at_rest = pump_off(bare, plumbing, tables, points, fallen, np.array([True, False]))
    for name in ("rail", "rail_inlet", "filter_outlet", "pump_outlet"):
        assert at_rest.pressure[name][0] == pytest.approx(holds, rel=1e-3)
        assert at_rest.pressure[name][1] == 150e3


def test_each_stopped_point_has_its_own_ratings_where_they_are_lists():
    """A regulator of 250 and of 400 kPa over the atmosphere spills hot fuel at 250 kPa at the first point."""
    changes = {"rail.engine_conductance": 0.0, "pump.check_valve": True}
    car = fs.Car.named("finch").with_values({**changes, "rail_regulator.set_pressure": ["250 kPa", "400 kPa"]})
    _, _, _, _, at_rest = stopped(car, "return", bay_temperature=383.15)
    assert at_rest.pressure["rail"][0] == pytest.approx(250e3 + ATMOSPHERE)


def test_without_a_stopped_engine_the_solution_is_the_same_one(finch):
    run, plumbing, points, tables, _ = finch
    assert pump_off(run.solved.car, plumbing, tables, points, run.as_solved, np.zeros(2, dtype=bool)) is run.as_solved


def test_coils_warm_the_rail_by_their_duty_up_to_held_open():
    """Half of what four injectors pass at 300 kPa takes half the time and the dead time: that share of four coils'
    power, of which a fifth ends in the fuel; injectors asked for more than they pass are held open."""
    car = fs.Car.named("finch").with_values({"injectors.coil_heat_share": 0.2})
    system = car.system("return")
    filled = system.filled(Conditions(rpm=[3000.0, 3000.0, 6000.0], tank_temperature=300.0, supply_voltage=14.0))
    points = OperatingPoints.of(system.car, system.fuel, filled)
    plumbing, density = system.plumbing, np.full(3, 740.0)
    coils = coil_heat(plumbing, density, points)
    assert isinstance(coils, CoilHeat)
    injectors = plumbing.injectors[0].part
    links, stations = [link.name for link in plumbing.links], list(plumbing.stations)
    power, flow = np.full((len(links), 3), 1.0), np.zeros((len(links), 3))
    flow[links.index("injectors")] = injectors.static_volume_flow(3e5, 740.0) * 740.0 * np.array([0.5, 4.0, -1.0])
    pressure = np.full((len(stations), 3), 4e5)
    pressure[stations.index("manifold")] = 1e5
    coils.add_to(power, plumbing, flow, pressure)
    dead = float(injectors.opening_loss(14.0, 3e5)) / 0.040
    each = float(injectors.coil_power(14.0))
    bore = links.index("rail_bore")
    assert power[bore, :2] == pytest.approx([1.0 + 0.2 * 4.0 * each * (0.5 + dead), 1.0 + 0.2 * 4.0 * each])
    # Nothing flows back through injectors: what is left is the dead time of a pulse without fuel, if any.
    assert 1.0 <= power[bore, 2] < 1.0 + 0.2 * 4.0 * each * 0.15
    assert np.all(np.delete(power, bore, axis=0) == 1.0)
    some = coils.take(np.array([2, 0]))
    assert (some.rpm.tolist(), some.voltage.tolist(), some.density.tolist()) == (
        [6000.0, 3000.0],
        [14.0, 14.0],
        [740.0, 740.0],
    )
    none = fs.Car.named("finch").with_values({"injectors.coil_heat_share": 0.0}).system("return").plumbing
    assert coil_heat(none, density, points) is None
