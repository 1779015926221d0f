"""The coupled problem piece by piece: gas at the pumps, mixtures in the lines, standing fuel, jets, by closed forms."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.arguments import unchecked
from fuelsim.parts.pump.inlet_gas import InletGas, PumpWithGas
from fuelsim.system import coupled_problem
from fuelsim.system.conditions import Conditions
from fuelsim.system.coupled_problem import STARVED, CoupledProblem, JetDrive, _mean_vapour
from fuelsim.system.fixed_point import MOST_VAPOUR
from fuelsim.system.heat_exchange import boiling_at
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.pump_drive import running_pumps
from fuelsim.system.solved_network import solved_network

TEMPERATURES = np.array([300.0, 318.0, 326.0])
GAS_CONSTANT = 8.314462618


def problem_of(car, layout, **conditions):
    system = car.system(layout)
    given = {"rpm": np.full(3, 3000.0), "tank_temperature": TEMPERATURES, "vapour_space_pressure": 2000.0} | conditions
    points = OperatingPoints.of(system.car, system.fuel, system.filled(Conditions(**given)))
    tables = system.fuel.tables()
    pumps = running_pumps(system.plumbing, tables, points, {})
    return CoupledProblem.of(system.car, system.plumbing, tables, points, pumps)


@pytest.fixture(scope="module")
def heron():
    """Pump at 0.2 m that bears 2 K above boiling, a suction line from a tank with its level at 0.1 m; no air."""
    car = fs.Car.named("heron").with_values({"tank.released_air": 0.0, "pump.inlet_superheat": "2 K"})
    return problem_of(car, "return")


@pytest.fixture(scope="module")
def plover():
    return problem_of(fs.Car.named("plover"), "pot")


def solved(problem, iterate):
    """Return the state of the network at an iterate, and the densities it was solved with."""
    mean = problem.mean_temperatures(iterate)
    density = problem.tables.density(mean)
    return unchecked(problem.network(iterate, None).solve)(problem.liquids(iterate, mean, density, None)), density


def row(problem, name):
    return [link.name for link in problem.plumbing.links].index(name)


def with_vapour(problem, **vapour):
    """Return the iterate that is all liquid but for x in some links."""
    iterate = problem.all_liquid()
    x = iterate.vapour.copy()
    for name, value in vapour.items():
        x[row(problem, name)] = value
    return dataclasses.replace(iterate, vapour=x)


def test_pumps_draw_through_what_lies_between_them_and_their_vessel(heron, plover):
    def drawn(problem):
        return [link.name for link, draws in zip(problem.plumbing.links, problem.draws.links, strict=True) if draws]

    assert drawn(heron) == ["strainer", "suction"]
    assert drawn(plover) == ["lift_strainer"]
    stations = [plover.plumbing.stations[number] for number in plover.draws.inlets]
    assert stations == ["lift_inlet", "pot", "pot"]


def test_iteration_starts_all_liquid_and_as_warm_as_the_tank(heron):
    start = heron.all_liquid()
    assert np.all(start.nodes == TEMPERATURES)
    assert np.all(start.outlets == TEMPERATURES)
    assert np.all(start.gas.displaced == 1.0)
    assert not np.any(start.gas.displaced_slope)
    assert not start.from_above
    assert start.nodes.shape == (len(heron.plumbing.stations), 3)
    assert start.gas.displaced.shape == (1, 3)


def test_iteration_from_above_starts_as_warm_as_what_is_around_and_from_pumps_that_gas_has_stopped(heron):
    start = heron.standing()
    around = heron.surroundings.temperature
    assert start.from_above
    assert np.all(start.gas.displaced == 1e6)
    # Cold points: fuel in the bay does not boil at the tank's pressure, and is as warm as the bay's air and metal.
    cold = problem_of(fs.Car.named("heron"), "return", tank_temperature=300.0, air_temperature=268.0)
    begins, beside = cold.standing(), cold.surroundings.temperature
    feed = row(cold, "feed")
    assert begins.outlets[feed] == pytest.approx(np.maximum(beside[feed], 300.0), abs=1e-3)
    # Hot: as if all liquid it is warmer than the air, which its vapour's heat makes.
    assert np.all(start.outlets[row(heron, "rail_bore")] > around[row(heron, "rail_bore")] + 5.0)


def test_a_link_is_as_warm_as_the_mean_of_its_ends(heron):
    iterate = heron.all_liquid()
    iterate = dataclasses.replace(iterate, outlets=iterate.outlets + 8.0)
    assert heron.mean_temperatures(iterate) == pytest.approx(np.broadcast_to(TEMPERATURES + 4.0, iterate.outlets.shape))


def test_vapour_of_a_link_is_the_mean_of_both_ends_in_its_logarithm():
    """ln(1 + V/L): V/L of e - 1 at one end and e^3 - 1 at the other are 1 and 3; petrol boils away once."""
    inlet, outlet = np.expm1(np.array([[1.0, 0.0, 50.0]])), np.expm1(np.array([[3.0, 1.0, 50.0]]))
    assert _mean_vapour(inlet, outlet)[0] == pytest.approx([2.0, 0.5, MOST_VAPOUR])


def test_lines_carry_a_mixture_and_pumps_regulators_and_injectors_do_not(heron):
    """Homogeneous mixture at V/L 1: half the density of the liquid where vapour is without weight, as before anything
    is known of the pressure; with it half an ideal gas of 66 g/mol more."""
    names = ("feed", "rail_bore", "return_line", "pump", "regulator", "injectors")
    iterate = with_vapour(heron, **dict.fromkeys(names, np.log(2.0)))
    mean = heron.mean_temperatures(iterate)
    density = heron.tables.density(mean)
    light = heron.liquids(iterate, mean, density, None)
    state = SimpleNamespace(pressure=dict.fromkeys(heron.plumbing.stations, np.full(3, 2e5)))
    state.pressure["filter_outlet"] = np.full(3, 4e5)
    heavy = heron.liquids(iterate, mean, density, state)
    for name in names:
        at, mixed = row(heron, name), name in ("feed", "rail_bore", "return_line")
        assert light[name].density == pytest.approx(density[at] * (0.5 if mixed else 1.0))
        pressure = 3e5 if name == "feed" else 2e5
        gas = pressure * 0.066 / (GAS_CONSTANT * TEMPERATURES)
        assert heavy[name].density == pytest.approx(0.5 * (density[at] + gas) if mixed else density[at], rel=1e-6)
    assert light["filter"].density == pytest.approx(density[row(heron, "filter")])
    viscosity = heron.tables.viscosity(TEMPERATURES)
    assert light["filter"].kinematic_viscosity == pytest.approx(viscosity / density[row(heron, "filter")])
    # Half of the mixture's volume is vapour, which is far thinner: kinematic viscosity of the mixture is that of its
    # dynamic one over its density, between half of the liquid's and all of it.
    dynamic = light["feed"].kinematic_viscosity * light["feed"].density
    assert np.all((dynamic < viscosity) & (dynamic > 8e-6))


def test_what_a_pump_displaces_is_one_over_the_share_that_gas_leaves_it_and_falls_with_pressure(heron):
    """The tangent, against a central difference ten times as fine; without gas it is level."""
    temperatures, pressures = TEMPERATURES[None], np.array([[95e3, 75.3e3, 85e3]])
    gas = heron.inlet_gas(temperatures, pressures)
    pump = heron.plumbing.pumps[0].part

    def displaced(pressure):
        ratio = heron.tables.vapour_liquid_ratio_after_drop(TEMPERATURES - pump.inlet_superheat, pressure)
        return 1.0 / pump.vapour_flow_share(ratio)

    step = 1e-4 * pressures[0]
    slope = (displaced(pressures[0] + step) - displaced(pressures[0] - step)) / (2.0 * step)
    assert gas.displaced[0] == pytest.approx(displaced(pressures[0]))
    assert gas.displaced[0, 0] == 1.0
    assert 1.02 < gas.displaced[0, 1] < 1.1 < gas.displaced[0, 2]
    assert gas.displaced_slope[0, 0] == 0.0
    assert gas.displaced_slope[0, 1:] == pytest.approx(slope[1:], rel=0.02)
    assert np.all(gas.displaced_slope[0, 1:] < 0.0)
    assert gas.inlet_pressure.tolist() == pressures.tolist()
    # Just above the onset of boiling the pressure a thousandth lower has gas, the pressure itself has none: level.
    onset = heron.tables.bubble_pressure(TEMPERATURES - pump.inlet_superheat) * 1.0002
    at_onset = heron.inlet_gas(temperatures, onset[None])
    assert np.all(at_onset.displaced == 1.0)
    assert not np.any(at_onset.displaced_slope)


def test_first_tangents_touch_where_the_loss_before_the_pump_is_that_of_the_flow_left(heron):
    """Without flow the inlet stands at the tank's pressure and a column of -0.1 m; with gas the loss from there is that
    of the flow, 1/displaced, to the power of 1.8, between laminar (1) and turbulent (2)."""
    temperatures = TEMPERATURES[None] + 4.0
    without_gas = np.full((1, 3), 76e3)
    expected = heron._expected_pressures(temperatures, without_gas)
    still = heron.points.tank_pressure - 0.1 * 9.80665 * heron.tables.density(temperatures)
    assert heron.points.tank_pressure == pytest.approx(np.full(3, 103325.0))
    displaced = heron.inlet_gas(temperatures, expected).displaced
    assert still - (still - without_gas) * displaced**-1.8 == pytest.approx(expected, abs=60.0)
    assert np.all((expected >= without_gas) & (expected <= still))
    assert expected[0, 0] == pytest.approx(76e3, abs=1.0)
    assert np.all(expected[0, 1:] > 76e3 + 500.0)


def test_temperatures_follow_where_gas_has_settled_to_a_tenth_per_kelvin_that_they_are_about_to_move(heron):
    """A thousandth at the least and a twentieth at the most, of the logarithm of what a pump displaces and of x in what
    it draws through; gas elsewhere and temperatures elsewhere do not matter."""
    base = dataclasses.replace(with_vapour(heron, suction=0.3), rounds=1)
    state, density = solved(heron, base)
    made = heron.update(base, state, density)
    gas = heron.inlet_gas(base.nodes[heron.draws.inlets], made.inlet_pressures)
    inlet, suction = heron.draws.inlets[0], row(heron, "suction")
    for warming, tolerance in ((0.0, 1e-3), (0.2, 0.02), (-0.2, 0.02), (4.0, 0.05)):
        for error in (0.95 * tolerance, -0.95 * tolerance, 1.05 * tolerance, -1.05 * tolerance):
            nodes = np.full_like(made.nodes, 390.0)
            nodes[inlet] = base.nodes[inlet] + warming
            drawn, elsewhere = np.array(base.vapour), np.ones_like(made.vapour)
            update = dataclasses.replace(
                made, nodes=nodes, drawn_vapour=drawn, vapour=elsewhere, displaced=gas.displaced * np.exp(error)
            )
            settled = abs(error) < tolerance
            assert heron.following(base, update).held.tolist() == [not settled] * 3
            drawn[suction] += error
            update = dataclasses.replace(update, displaced=np.asarray(gas.displaced))
            assert heron.following(base, update).held.tolist() == [not settled] * 3


def test_first_tangents_are_where_the_pressure_is_expected_and_later_ones_where_it_was(heron):
    base = heron.all_liquid()
    state, density = solved(heron, base)
    made = heron.update(base, state, density)
    gas = heron.inlet_gas(base.nodes[heron.draws.inlets], made.inlet_pressures)
    hot = dataclasses.replace(made, nodes=made.nodes + 4.0, displaced=np.asarray(gas.displaced))
    later, above = dataclasses.replace(base, rounds=1), dataclasses.replace(base, from_above=True)
    assert heron.following(later, hot).gas.inlet_pressure.tolist() == hot.inlet_pressures.tolist()
    assert heron.following(above, hot).gas.inlet_pressure.tolist() == hot.inlet_pressures.tolist()
    begun = heron.following(base, hot)
    at_inlets = begun.nodes[heron.draws.inlets]
    assert begun.gas.inlet_pressure == pytest.approx(heron._expected_pressures(at_inlets, hot.inlet_pressures))
    assert np.any(begun.gas.inlet_pressure > hot.inlet_pressures + 100.0)
    # Without any gas nothing more is to be expected.
    cold = heron.take(np.array([0]))
    base = cold.all_liquid()
    state, density = solved(cold, base)
    made = cold.update(base, state, density)
    assert cold.following(base, made).gas.inlet_pressure.tolist() == made.inlet_pressures.tolist()


def test_the_column_before_a_pump_is_that_from_its_own_vessel(heron, plover):
    """By hand: the tank's level is 0.1 m, the pump's inlet at 0.2 m; the level 0.125 m, the lift pump at 0.03 m."""
    assert heron._suction_head("pump_inlet") == pytest.approx(-0.980665)
    assert plover._suction_head("lift_inlet") == pytest.approx(9.80665 * 0.095)
    assert plover._suction_head("pot") == 0.0


def test_injectors_are_told_the_demand_the_controller_s_openings_and_the_vapour_before_them(heron):
    iterate = with_vapour(heron, rail_bore=np.log(1.25), injectors=1.0, feed=2.0)
    injectors = heron.network(iterate, None).links["injectors"].part
    assert injectors.vapour_liquid_ratio == pytest.approx(np.full(3, 0.25))
    assert injectors.mass_demand == pytest.approx(heron.points.fuel_mass_flow)
    assert np.all(injectors.longest_opening > injectors.shortest_opening)
    flow = heron.plumbing.injectors[0].part.static_volume_flow(3e5, heron.tables.density(TEMPERATURES))
    needed = heron.points.fuel_mass_flow / (flow * heron.tables.density(TEMPERATURES))
    trim = heron.car.engine.trim_limit
    assert injectors.longest_opening == pytest.approx(np.minimum((1.0 + trim) * needed, 1.0), rel=1e-6)
    assert injectors.shortest_opening == pytest.approx((1.0 - trim) * needed, rel=1e-6)


def test_a_pump_has_the_law_with_gas_where_gas_is_and_its_plain_one_elsewhere(heron):
    iterate = heron.all_liquid()
    assert not isinstance(heron.network(iterate, None).links["pump"].part, PumpWithGas)
    for gas in (
        InletGas(np.array([[1.0, 1.0, 1.3]]), np.zeros((1, 3)), np.full((1, 3), 9e4)),
        InletGas(np.ones((1, 3)), np.array([[0.0, -1e-6, 0.0]]), np.full((1, 3), 9e4)),
    ):
        pump = heron.network(dataclasses.replace(iterate, gas=gas), None).links["pump"].part
        assert isinstance(pump, PumpWithGas)
        assert np.asarray(pump.gas.displaced).tolist() == gas.displaced[0].tolist()


def test_a_rail_starves_below_half_of_the_least_fuel_that_burns(plover):
    """Half of demand times lambda asked for over the lean limit, of either rail."""
    least = 0.5 * plover.points.lambda_demanded / plover.car.engine.lean_limit
    demand = 0.5 * plover.points.fuel_mass_flow
    names = [rail.injectors.name for rail in plover.plumbing.planned_rails]
    assert STARVED == 0.5
    for shares, starves in (((1.01, 1.01), False), ((0.99, 1.01), True), ((1.01, 0.99), True), ((0.0, 0.0), True)):
        flows = {name: share * least * demand for name, share in zip(names, shares, strict=True)}
        assert plover.starved(SimpleNamespace(mass_flow=flows)).tolist() == [starves] * 3


def test_the_round_says_where_fuel_stands_and_once_standing_it_takes_ten_times_the_flow_to_move(heron):
    """A ten-thousandth of a litre of liquid per hour, 740 kg/m3: 2.06e-8 kg/s, either way."""
    iterate = heron.all_liquid()
    state, density = solved(heron, iterate)
    least = 740.0 * 1e-7 / 3600.0
    back = row(heron, "return_line")

    def stands(flow, before):
        start = dataclasses.replace(iterate, standing=np.full(iterate.standing.shape, before))
        flows = {**state.mass_flow, "return_line": np.array(flow)}
        return heron.update(start, dataclasses.replace(state, mass_flow=flows), density).standing[back].tolist()

    assert stands([0.99 * least, 1.01 * least, -0.99 * least], False) == [True, False, True]
    assert stands([9.9 * least, 10.1 * least, -9.9 * least], True) == [True, False, True]


def test_an_overflow_through_which_air_comes_in_brings_no_fuel(plover):
    iterate = plover.all_liquid()
    state, density = solved(plover, iterate)
    flows = {**state.mass_flow, "overflow": np.array([-0.01, 0.01, 0.0])}
    standing = plover.update(iterate, dataclasses.replace(state, mass_flow=flows), density).standing
    assert standing[row(plover, "overflow")].tolist() == [True, False, True]
    assert np.count_nonzero(standing) == 2


def test_a_round_of_cold_fuel_agrees_with_the_first_law(heron):
    """What the fuel of the round brings back less what it took along is what pump, air and metal gave it, and the
    vapour that follows is what the fuel's tables say at its temperatures and pressures."""
    iterate = heron.all_liquid()
    state, density = solved(heron, iterate)
    update = heron.update(iterate, state, density)
    stations = heron.plumbing.stations
    pressure = np.stack([state.pressure[name] for name in stations])
    superheat = np.zeros((len(stations), 1))
    superheat[stations.index("pump_inlet")] = heron.plumbing.pumps[0].part.inlet_superheat
    ratio = heron.tables.vapour_liquid_ratio_after_drop(update.nodes - superheat, pressure)
    assert update.node_vapour == pytest.approx(ratio, abs=1e-9)
    assert np.any(ratio > 0.01)
    feed = row(heron, "feed")
    assert np.all(update.outlets[feed] > update.nodes[stations.index("filter_outlet")])
    operation = update.operations["pump"]
    assert np.all(operation.heat_into_fuel > 0.0)
    # In all-liquid tangents a pump displaces its liquid alone.
    assert np.all(update.displaced == 1.0)
    assert update.inlet_pressures.tolist() == [np.asarray(state.pressure["pump_inlet"]).tolist()]
    assert update.densities is density
    # What the pump draws through, at the temperatures of the iterate; nothing elsewhere.
    suction = row(heron, "suction")
    inlet, outlet = (
        heron.tables.vapour_liquid_ratio_after_drop(TEMPERATURES, np.asarray(state.pressure[name]))
        for name in ("suction_inlet", "pump_inlet")
    )
    assert update.drawn_vapour[suction] == pytest.approx(0.5 * (np.log1p(inlet) + np.log1p(outlet)), abs=1e-9)
    assert not np.any(update.drawn_vapour[[row(heron, name) for name in ("pump", "feed", "return_line")]])


def test_pumps_work_on_the_pressure_between_their_ends_and_the_flow_through_them(heron):
    """Power into the fuel and electrical power are the pump's own at that flow and rise."""
    iterate = heron.all_liquid()
    state, density = solved(heron, iterate)
    made = heron.update(iterate, state, density).operations["pump"]
    flow = np.asarray(state.mass_flow["pump"]) / density[row(heron, "pump")]
    rise = np.asarray(state.pressure["pump_outlet"]) - np.asarray(state.pressure["pump_inlet"])
    gas = heron.gas_ratio(TEMPERATURES - heron.plumbing.pumps[0].part.inlet_superheat, state.pressure["pump_inlet"])
    own = heron.pumps["pump"].with_inlet(vapour_liquid_ratio=gas, fuel_temperature=TEMPERATURES).operating(flow, rise)
    assert made.current == pytest.approx(own.current)
    assert made.electrical_power == pytest.approx(own.electrical_power)
    assert made.hydraulic_power == pytest.approx(flow * rise)
    # 12.6 V and 5.2 to 8.5 A on the bench, less with a thin wire.
    assert np.all((made.current > 5.0) & (made.current < 8.5))


def test_a_controlled_pump_runs_at_the_share_that_delivers_the_flow_with_the_gas_at_its_inlet():
    """With gas at an inlet that bears 2 K above boiling it has the share at which it would bring its gas as fuel."""
    car = fs.Car.named("finch").with_values(
        {
            "pump": fs.Pump.named("in_tank_220"),
            "pump.inlet_superheat": "2 K",
            "pump_control": fs.PumpControl(set_pressure="300 kPa"),
            "tank_regulator": None,
            "rail_regulator": None,
            "tank.released_air": 0.0,
        }
    )
    problem = problem_of(car.with_plumbing("held", runs=[["tank", "strainer", "pump", "feed", "rail"]]), "held")
    iterate = problem.all_liquid()
    state, density = solved(problem, iterate)
    thin = {**state.pressure, "pump_inlet": problem.tables.bubble_pressure(TEMPERATURES - 2.0) * 0.99}
    ratio = problem.tables.vapour_liquid_ratio_after_drop(TEMPERATURES - 2.0, thin["pump_inlet"])
    rise = np.asarray(state.pressure["pump_outlet"]) - thin["pump_inlet"]
    pump = problem.pumps["pump"].with_inlet(vapour_liquid_ratio=ratio, fuel_temperature=TEMPERATURES)
    flow = 0.4 * pump.slowest.flow(rise) + 0.6 * pump.fastest.flow(rise)
    moving = {**state.mass_flow, "pump": flow * density[row(problem, "pump")]}
    state = dataclasses.replace(state, pressure=thin, mass_flow=moving)
    made = problem.update(iterate, state, density).operations["pump"]
    assert np.all((made.share > pump.slowest.share) & (made.share < pump.fastest.share))
    dry = problem.pumps["pump"].with_inlet(vapour_liquid_ratio=0.0, fuel_temperature=TEMPERATURES).fastest
    displaced = flow / problem.plumbing.pumps[0].part.vapour_flow_share(ratio)
    assert made.share == pytest.approx(dry.share_delivering(displaced, rise), rel=1e-6)
    assert np.all(ratio > 0.02)


def test_what_drives_the_exchange_of_boiling_fuel_is_the_mean_state_of_a_link(heron, monkeypatch):
    asked = {}

    def noted(tables, as_liquid, pressure, around):
        asked.update(as_liquid=as_liquid, pressure=pressure)
        return boiling_at(tables, as_liquid, pressure, around)

    monkeypatch.setattr(coupled_problem, "boiling_at", noted)
    iterate = heron.all_liquid()
    iterate = dataclasses.replace(iterate, outlets=iterate.outlets + 6.0)
    state, density = solved(heron, iterate)
    heron.update(iterate, state, density)
    feed = row(heron, "feed")
    assert asked["as_liquid"][feed] == pytest.approx(TEMPERATURES + 3.0)
    ends = [np.asarray(state.pressure[name]) for name in ("filter_outlet", "rail_inlet")]
    assert asked["pressure"][feed] == pytest.approx(np.mean(ends, axis=0))
    assert np.all(ends[0] > ends[1] + 5e3)


def test_fuel_on_its_way_past_a_pump_s_inlet_boils_there_as_late_as_in_that_pump():
    """The right pump draws on through a line from where the left one has its inlet, which bears 2 K above boiling."""
    car = fs.Car.named("plover").with_values({"pumps.left_pump.inlet_superheat": "2 K", "tank.released_air": 0.0})
    runs = [list(run) for run in car.plumbing["no_pot"].runs]
    runs[2] = ["split", "lift_line", "right_pump", "right_check", "tee"]
    problem = problem_of(car.with_plumbing("past", runs=runs), "past")
    pressure = np.full((len(problem.plumbing.stations), 3), 90e3)
    drawn = problem._drawn_vapour(problem.all_liquid(), pressure)[row(problem, "lift_line")]
    inlet, outlet = (
        np.log1p(problem.tables.vapour_liquid_ratio_after_drop(TEMPERATURES - superheat, 90e3))
        for superheat in (2.0, 0.0)
    )
    assert drawn == pytest.approx(0.5 * (inlet + outlet), abs=1e-9)
    assert outlet[2] > inlet[2] > 0.1


def test_regulators_and_reducers_see_the_manifold_where_their_spring_side_is_open_to_it(heron):
    assert heron._plumbed.links["regulator"].reference == "manifold"
    assert heron._plumbed.links["feed"].reference is None
    assert problem_of(fs.Car.named("heron"), "returnless_tank")._plumbed.links["regulator"].reference is None


def test_ratings_of_some_points_are_those_of_all_at_them():
    car = fs.Car.named("finch").with_values({"feed.bore": ["5 mm", "6 mm", "8 mm"]})
    some = problem_of(car, "return").take(np.array([2, 0]))
    assert some.plumbing.link("feed").part.bore.tolist() == [0.008, 0.005]
    assert some.car.feed.bore.tolist() == [0.008, 0.005]


def test_overflows_end_above_their_pot_and_injectors_at_their_rail():
    """Heights of the reservoirs in which they end, read off the car: the pot at 0.35 m, rails at 0.65 and 0.8 m."""
    car = fs.Car.named("plover").with_values({"rails.right_rail.height": "0.8 m"})
    net = problem_of(car, "pot")._plumbed
    heights = {name: end.height for name, end in net.reservoirs.items()}
    assert heights == {
        "tank": 0.125,
        "pot_vapour_space": 0.35,
        "manifold": 0.65,
        "right_rail_manifold": 0.8,
    }
    assert (net.nodes["pot"].height, net.nodes["right_rail"].height) == (0.35, 0.8)


def jet_problem():
    car = fs.Car.named("plover")
    car = dataclasses.replace(car, jet_pumps={"jet": fs.JetPump(nozzle_bore="0.8 mm")})
    runs = [list(run) for run in car.plumbing["pot"].runs]
    runs[-2] = ["left_rear", "rail_end", "return_hose", "jet", "pot"]
    return problem_of(car.with_plumbing("jet", runs=runs), "jet")


def test_a_jet_pump_is_driven_by_what_passed_its_nozzle_and_has_settled_when_that_does_not_change():
    """Pressure before the nozzle above the tank's; neither flow nor pressure the other way drives it."""
    problem = jet_problem()
    jet, tank = problem.plumbing.jets[0], problem.points.tank_pressure

    def state(flow, drop):
        return SimpleNamespace(flow={"jet": np.asarray(flow)}, pressure={"return_hose_outlet": tank + np.asarray(drop)})

    was = state([1e-5, 2e-5, -1e-6], [5e4, 6e4, -1e3])
    drive = problem._jet_drive(jet, was)
    assert drive.motive_flow.tolist() == [1e-5, 2e-5, 0.0]
    assert drive.motive_drop == pytest.approx(np.array([5e4, 6e4, 0.0]))
    assert isinstance(drive, JetDrive)
    assert problem._driven_jets(None) == {}
    driven = problem._driven_jets(was)["jet_suction"]
    assert driven.motive_flow.tolist() == [1e-5, 2e-5, 0.0]
    assert problem.jets_converged(None, was).tolist() == [False, False, False]
    assert problem.jets_converged(was, was).all()
    now = state([1e-5 * (1 + 0.9e-5), 2e-5 * (1 - 1.1e-5), 0.0], [5e4, 6e4, 0.0])
    assert problem.jets_converged(was, now).tolist() == [True, False, True]
    now = state([1e-5, 2e-5, 0.0], [5e4 * (1 + 1.1e-5), 6e4 * (1 - 0.9e-5), 0.0])
    assert problem.jets_converged(was, now).tolist() == [False, True, True]


def test_the_network_of_a_run_has_its_jet_pump_driven_and_solves_to_the_run_s_pressures():
    """Solved anew without the coupling the network comes to what the run says, also where a jet fills the pot."""
    car = fs.Car.named("plover")
    car = dataclasses.replace(car, jet_pumps={"jet": fs.JetPump(nozzle_bore="0.8 mm")})
    runs = [*car.plumbing["pot"].runs, ["tee", "jet", "pot"]]
    run = car.with_plumbing("jet", runs=runs).system("jet").solve(rpm=[1000.0, 6000.0], load=[0.0, 1.0])
    made = solved_network(run, np.array([1, 0]))
    state = made.network.solve(made.liquids)
    assert np.all(np.asarray(run.flow["jet_suction"]) > 1e-5)
    assert state.mass_flow["jet_suction"] == pytest.approx(np.asarray(run.mass_flow["jet_suction"])[[1, 0]], rel=1e-3)
    for name in ("pot", "left_rail", "tee"):
        assert state.pressure[name] == pytest.approx(np.asarray(run.pressure[name])[[1, 0]], rel=1e-4)


def test_a_problem_without_jet_pumps_waits_for_none(heron):
    assert heron.jets_converged(None, SimpleNamespace()).all()


def test_the_problem_of_some_points_is_that_of_all_at_them(heron):
    some = heron.take(np.array([2, 0]))
    assert some.points.tank_temperature.tolist() == [326.0, 300.0]
    assert some.surroundings.temperature.tolist() == heron.surroundings.temperature[:, [2, 0]].tolist()
    assert some.plumbing is heron.plumbing
    whole, few = (solved(problem, problem.all_liquid())[0].pressure["rail"] for problem in (heron, some))
    assert few == pytest.approx(whole[[2, 0]], abs=1.0)
