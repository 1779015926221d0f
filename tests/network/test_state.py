"""Shapes, names, tables and starts of solutions."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, looped_net, pump_and_rail

from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.network.solver.plan import make_plan
from fuelsim.outcome import OutcomeCode
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.valves import FlowControlValve


def test_scalars_in_give_scalars_and_lists_give_arrays():
    net = pump_and_rail()
    one = net.solve(PETROL, {"rail": "60 L/h"})
    assert isinstance(one.pressure["rail"], float)
    assert isinstance(one.regime["regulator"], str)
    assert np.ndim(one.outcome.code) == 0
    many = net.solve(PETROL, {"rail": ["60 L/h", "70 L/h"]})
    assert many.pressure["rail"].shape == (2,)
    assert many.flow["feed"].shape == (2,)
    assert many.regime["regulator"].shape == (2,)
    assert many.outcome.converged.shape == (2,)
    assert many.pressure["rail"][0] == pytest.approx(one.pressure["rail"], rel=1e-9)


def test_an_unknown_name_gets_the_nearest_known_one():
    state = pump_and_rail().solve(PETROL)
    with pytest.raises(KeyError, match="did you mean 'rail'"):
        state.pressure["raill"]
    with pytest.raises(InputError, match="did you mean 'feed'"):
        state.flow["fed"]


def test_tables_have_units_in_their_columns():
    table = pump_and_rail().solve(PETROL, {"rail": np.array([0.0, 60.0, 400.0]) * L_H}).table()
    assert {"rail_kPa_gauge", "feed_L_h", "regulator_regime", "outcome"} <= set(table.columns)
    assert table["rail_kPa_gauge"].iloc[0] == pytest.approx(300.5, abs=0.5)
    assert np.isnan(table["rail_kPa_gauge"].iloc[2])
    assert "Outside ratings" in table["outcome"].iloc[2]
    parts = pump_and_rail().table()
    assert parts.loc["feed", "from"] == "outlet"
    assert "bore 8 mm" in parts.loc["feed", "ratings"]


def test_ratings_pressures_and_liquids_all_carry_operating_points():
    viscosity = np.array([0.4e-6, 0.6e-6, 0.9e-6])
    net = Network(atmospheric_pressure=np.array([101325.0, 95e3, 85e3]))
    net.add_reservoir("a", pressure=np.array([3e5, 3.1e5, 3.2e5]))
    net.add_reservoir("b", pressure=1e5)
    net.connect("a", "b", Line(length=2.0, bore=["4 mm", "5 mm", "6 mm"]), name="line")
    batch = net.solve(Liquid(740.0, viscosity))
    for point in range(3):
        alone = Network(atmospheric_pressure=float(net.atmospheric_pressure[point]))
        alone.add_reservoir("a", pressure=float(net.reservoirs["a"].pressure[point]))
        alone.add_reservoir("b", pressure=1e5)
        alone.connect("a", "b", Line(length=2.0, bore=(0.004, 0.005, 0.006)[point]), name="line")
        single = alone.solve(Liquid(740.0, float(viscosity[point])))
        assert batch.flow["line"][point] == pytest.approx(single.flow["line"], rel=1e-9)
        assert batch.gauge_pressure["a"][point] == pytest.approx(single.gauge_pressure["a"], rel=1e-12)


def test_nodes_conserve_mass_where_densities_differ():
    """Warm return fuel is lighter: volume flows differ, mass flows add up."""
    net = pump_and_rail()
    liquids = {"pump": Liquid(750.0, 0.6e-6), "feed": Liquid(745.0, 0.58e-6), "regulator": Liquid(710.0, 0.45e-6)}
    state = net.solve(liquids, mass_draw={"rail": 0.01})
    assert state.mass_flow["feed"] == pytest.approx(state.mass_flow["pump"], rel=1e-9)
    assert state.mass_flow["feed"] == pytest.approx(state.mass_flow["regulator"] + 0.01, rel=1e-9)
    assert state.flow["pump"] == pytest.approx(state.mass_flow["pump"] / 750.0, rel=1e-12)
    assert state.flow["feed"] > state.flow["pump"]


def test_mass_draw_and_volume_draw_agree():
    net = pump_and_rail()
    volume = net.solve(PETROL, {"rail": 60.0 * L_H})
    mass = net.solve(PETROL, mass_draw={"rail": 60.0 * L_H * 740.0})
    assert mass.pressure["rail"] == pytest.approx(volume.pressure["rail"], rel=1e-12)


def test_static_head_of_a_full_line_at_rest():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE, height="0.5 m")
    net.add_node("low", height=0.0)
    net.add_node("high", height=1.0)
    net.connect("tank", "low", Line(length=1.0, bore=0.008), name="down")
    net.connect("high", "low", Line(length=1.0, bore=0.008), name="up")
    state = net.solve(PETROL)
    assert state.gauge_pressure["low"] == pytest.approx(740.0 * 9.80665 * 0.5, abs=1e-6)
    assert state.gauge_pressure["high"] == pytest.approx(-740.0 * 9.80665 * 0.5, abs=1e-6)


def test_too_high_a_lift_is_outside_ratings_and_names_the_node():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("inlet", height=15.0)
    net.connect("tank", "inlet", Line(length=16.0, bore=0.008), name="suction")
    state = net.solve(PETROL)
    assert state.outcome.code == OutcomeCode.OUTSIDE_RATINGS
    assert "'inlet'" in state.outcome.sentence()
    assert np.isnan(state.pressure["inlet"])


def test_a_part_that_gives_no_number_spoils_its_own_point_alone():
    net = pump_and_rail()
    broken = Line(length=3.0, bore=0.008)
    object.__setattr__(broken, "length", np.array([3.0, np.nan, 3.0]))
    state = net.with_parts({"feed": broken}).solve(PETROL, {"rail": 60.0 * L_H})
    assert state.outcome.code.tolist() == [0, OutcomeCode.BAD_INPUT, 0]
    assert "'feed'" in state.outcome.reason[1]
    assert np.isfinite(state.pressure["rail"]).tolist() == [True, False, True]


def test_a_state_goes_to_another_process_and_back():
    state = pump_and_rail().solve(PETROL, {"rail": np.array([60.0, 400.0]) * L_H})
    copy = pickle.loads(pickle.dumps(state))
    assert np.array_equal(copy.pressure["rail"], state.pressure["rail"], equal_nan=True)
    assert copy.regime["regulator"].tolist() == state.regime["regulator"].tolist()
    assert copy.outcome.code.tolist() == [0, 1]
    with pytest.raises(KeyError, match="did you mean 'rail'"):
        copy.pressure["raill"]


def test_an_earlier_state_is_a_good_start():
    net, draws = looped_net()
    factors = np.linspace(0.5, 1.0, 50)
    first = net.solve(PETROL, {name: draw * factors for name, draw in draws.items()})
    moved = {name: draw * factors * 1.001 for name, draw in draws.items()}
    again = net.solve(PETROL, moved, start=first)
    cold = net.solve(PETROL, moved)
    assert again.outcome.iterations.max() < cold.outcome.iterations.min()
    assert np.abs(again.pressure["9"] - cold.pressure["9"]).max() < 1.0


def test_a_start_with_failed_points_starts_those_afresh():
    net = pump_and_rail()
    demand = np.array([60.0, 400.0]) * L_H
    first = net.solve(PETROL, {"rail": demand})
    again = net.solve(PETROL, {"rail": demand[::-1].copy()}, start=first)
    assert again.outcome.code.tolist() == [1, 0]
    assert again.pressure["rail"][1] == pytest.approx(first.pressure["rail"][0], rel=1e-6)


def test_a_network_made_anew_finds_its_plan_again():
    before = make_plan.cache_info().misses
    plans = []
    for _ in range(3):
        net, draws = looped_net()
        net.solve(PETROL, draws)
        plans.append(net.plan)
    assert plans[0] is plans[1] is plans[2]
    assert make_plan.cache_info().misses <= before + 1


@pytest.mark.parametrize("count", [1, 4, 5, 700, 3000])
def test_a_point_has_the_same_solution_in_any_batch(count):
    """Dense and sparse elimination, predicted starts and chunks change nothing beyond the stop rule."""
    net, draws = looped_net()
    factors = 0.1 + np.mod(np.arange(count) * 0.6180339887498949, 1.0)
    state = net.solve(PETROL, {name: draw * factors for name, draw in draws.items()})
    assert state.outcome.converged.all()
    for point in range(0, count, max(count // 3, 1)):
        alone = net.solve(PETROL, {name: draw * float(factors[point]) for name, draw in draws.items()})
        largest = max(abs(flow) for flow in alone.flow.values())
        for name in net.links:
            assert state.flow[name][point] == pytest.approx(alone.flow[name], abs=2e-6 * largest)


def through(orifice, mass_flow, density):
    """Return the loss of a sharp orifice: dp = m^2 / (2 rho (C A)^2) (ISO 5167, of small ratio of areas)."""
    area = np.pi / 4.0 * float(orifice.diameter) ** 2
    return mass_flow**2 / (2.0 * density * (orifice.discharge_coefficient * area) ** 2)


@pytest.mark.parametrize("count", [1, 3, 80])
def test_each_link_loses_by_its_own_liquid_in_series_and_in_a_dead_end(count):
    """Closed form: two orifices in series pass one mass flow, each with the density of its own liquid; a dead end
    passes what is drawn at its end. Liquids thin enough that no part of the loss is viscous."""
    wide, narrow = Orifice(diameter="2 mm"), Orifice(diameter="1.5 mm")
    net = Network()
    net.add_reservoir("high", pressure=np.full(count, 5e5) if count > 1 else 5e5)
    net.add_reservoir("low", pressure=1e5)
    net.add_node("between")
    net.add_node("end")
    net.connect("high", "between", wide, name="wide")
    net.connect("between", "low", narrow, name="narrow")
    net.connect("between", "end", narrow, name="side")
    liquids = {name: Liquid(density, 1e-12) for name, density in (("wide", 400.0), ("narrow", 800.0), ("side", 600.0))}
    drawn = 0.01
    state = net.solve(liquids, mass_draw={"end": drawn})
    mass, between, end = (
        np.atleast_1d(values)[-1]
        for values in (state.mass_flow["wide"], state.pressure["between"], state.pressure["end"])
    )
    assert between == pytest.approx(5e5 - through(wide, mass, 400.0), rel=1e-4)
    assert between == pytest.approx(1e5 + through(narrow, mass - drawn, 800.0), rel=1e-4)
    assert end == pytest.approx(between - through(narrow, drawn, 600.0), rel=1e-4)
    assert np.atleast_1d(state.flow["side"])[-1] == pytest.approx(drawn / 600.0, rel=1e-9)


@pytest.mark.parametrize("other", [800.0, 400.0, 200.0])
def test_a_flow_control_valve_holds_and_judges_the_volume_flow_of_its_own_liquid(other):
    """It holds 20 L/h of its own liquid, half or twice as much as the volume of the liquid before it."""
    net = Network()
    net.add_reservoir("high", pressure=5e5)
    net.add_node("between")
    net.add_reservoir("low", pressure=1e5)
    net.connect("high", "between", Line(length=1.0, bore=0.008), name="line")
    net.connect("between", "low", FlowControlValve(set_flow="20 L/h"), name="valve")
    state = net.solve({"line": Liquid(other, 1e-6), "valve": Liquid(400.0, 1e-6)})
    assert state.flow["valve"] == pytest.approx(20.0 * L_H, rel=1e-3)
    assert state.flow["line"] == pytest.approx(20.0 * L_H * 400.0 / other, rel=1e-3)
    assert state.regime["valve"] == "regulating"


@pytest.mark.parametrize("other", [400.0, 200.0])
def test_a_flow_control_valve_that_gets_too_little_of_its_own_liquid_is_wide_open(other):
    """A hole of 0.3 mm before it passes less than half of the 60 L/h it would hold (closed form of the orifice)."""
    net = Network()
    net.add_reservoir("high", pressure=2e5)
    net.add_node("between")
    net.add_reservoir("low", pressure=1e5)
    net.connect("high", "between", Orifice(diameter="0.3 mm"), name="hole")
    net.connect("between", "low", FlowControlValve(set_flow="60 L/h"), name="valve")
    state = net.solve({"hole": Liquid(other, 1e-9), "valve": Liquid(400.0, 1e-9)})
    assert state.flow["valve"] < 30.0 * L_H
    assert through(Orifice(diameter="0.3 mm"), state.mass_flow["hole"], other) == pytest.approx(1e5, rel=1e-3)
    assert state.regime["valve"] == "wide open"


def test_a_part_of_another_law_makes_another_plan_and_one_of_the_same_law_keeps_it():
    """A solved network with its feed as a hole gives what one built with the hole gives."""
    net = pump_and_rail()
    net.solve(PETROL, {"rail": 60.0 * L_H})
    same = net.with_parts({"feed": Line(length=2.0, bore=0.006)})
    assert same.plan is net.plan
    hole = net.with_parts({"feed": Orifice(diameter="2 mm")})
    assert hole.plan is not net.plan
    state = hole.solve(PETROL, {"rail": 60.0 * L_H})
    loss = state.pressure["outlet"] - state.pressure["rail"]
    assert loss == pytest.approx(through(Orifice(diameter="2 mm"), state.mass_flow["feed"], 740.0), rel=0.01)
