"""Regulators and valves at work in small networks."""

from __future__ import annotations

import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, parabolic_pump, pump_and_rail

from fuelsim.errors import InputError
from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.pump.controlled_pump import ControlledPump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator


def with_return_line(bore: float = 0.008, coupling: float = 0.0, back_pressure: float = 0.0) -> Network:
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_reservoir("end", pressure=ATMOSPHERE + back_pressure)
    for name in ("rail", "back"):
        net.add_node(name)
    net.connect("tank", "rail", parabolic_pump(), name="pump")
    regulator = ReturnRegulator(set_pressure=3e5, back_pressure_coupling=coupling)
    net.connect("rail", "back", regulator, name="regulator")
    net.connect("back", "end", Line(length=3.0, bore=bore), name="return")
    return net


def test_back_pressure_leaves_a_balanced_regulator_alone():
    low, high = (with_return_line(back_pressure=value).solve(PETROL).pressure["rail"] for value in (0.0, 5e4))
    assert high == pytest.approx(low, abs=1.0)


def test_back_pressure_adds_its_share_to_an_unbalanced_regulator():
    low, high = (
        with_return_line(coupling=0.05, back_pressure=value).solve(PETROL).pressure["rail"] for value in (0.0, 5e4)
    )
    assert high - low == pytest.approx(0.05 * 5e4, rel=0.05)


def test_a_return_bore_too_small_costs_the_regulator_its_control():
    wide = with_return_line(bore=0.008).solve(PETROL)
    narrow = with_return_line(bore=0.002).solve(PETROL)
    assert wide.regime["regulator"] == "regulating"
    assert narrow.regime["regulator"] == "wide open"
    assert narrow.pressure["rail"] > wide.pressure["rail"] + 5e4


def test_manifold_reference_moves_the_rail_with_the_manifold():
    manifold = ATMOSPHERE + np.array([-6e4, -3e4, 0.0, 8e4])
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_reservoir("manifold", pressure=manifold)
    net.add_node("rail")
    net.connect("tank", "rail", parabolic_pump(), name="pump")
    regulator = ReturnRegulator(set_pressure="300 kPa", droop=1e7)
    net.connect("rail", "tank", regulator, name="regulator", reference="manifold")
    difference = net.solve(PETROL).pressure["rail"] - manifold
    assert np.ptp(difference) < 0.02 * 3e5
    assert difference.min() > 3e5


def test_return_regulator_at_rest_passes_nothing():
    net = pump_and_rail()
    stopped = net.with_parts({"pump": Orifice(diameter="2 mm")})
    state = stopped.solve(PETROL)
    assert abs(state.flow["regulator"]) < 1e-3 * L_H
    assert state.regime["regulator"] == "shut"
    assert state.gauge_pressure["rail"] == pytest.approx(0.0, abs=1.0)


def reducing(set_pressure: float, pressure: object) -> Network:
    net = Network()
    net.add_reservoir("supply", pressure=pressure)
    net.add_node("bowl")
    net.connect("supply", "bowl", ReducingRegulator(set_pressure=set_pressure), name="regulator")
    return net


def test_reducing_regulator_holds_opens_wide_and_shuts():
    supply = ATMOSPHERE + np.array([3e5, 5e4, 2e4])
    state = reducing(25e3, supply).solve(PETROL, {"bowl": 40.0 * L_H})
    assert state.gauge_pressure["bowl"][:2] == pytest.approx(25e3 - 0.08e3 * 40.0, abs=60.0)
    assert state.gauge_pressure["bowl"][2] < 20e3
    assert state.regime["regulator"].tolist() == ["regulating", "regulating", "wide open"]
    shut = reducing(25e3, ATMOSPHERE + 3e5).solve(PETROL)
    assert shut.gauge_pressure["bowl"] == pytest.approx(25e3, abs=1.0)
    assert shut.regime["regulator"] == "shut"


def test_reducing_regulator_does_not_let_pressure_back():
    net = Network()
    net.add_reservoir("supply", pressure=ATMOSPHERE + 1e4)
    net.add_reservoir("high", pressure=ATMOSPHERE + 2e5)
    net.add_node("bowl")
    net.connect("supply", "bowl", ReducingRegulator(set_pressure=25e3), name="regulator")
    net.connect("high", "bowl", Orifice(diameter="1 mm"), name="leak")
    state = net.solve(PETROL)
    assert state.gauge_pressure["bowl"] == pytest.approx(2e5, rel=1e-4)
    assert abs(state.flow["regulator"]) < 1e-2 * L_H


def controlled(set_pressure: float = 4e5) -> Network:
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("outlet", "rail"):
        net.add_node(name)
    pump = ControlledPump(pump=parabolic_pump(), set_pressure=set_pressure, droop=1e7)
    net.connect("tank", "outlet", pump, name="pump", reference="rail")
    net.connect("outlet", "rail", Line(length=3.0, bore=0.006), name="feed")
    return net


def test_controlled_pump_holds_the_remote_pressure_until_it_runs_at_full_speed():
    demand = np.array([1.0, 50.0, 120.0, 200.0, 260.0]) * L_H
    state = controlled().solve(PETROL, {"rail": demand})
    assert state.gauge_pressure["rail"][:3] == pytest.approx(np.full(3, 4e5), abs=1.5e3)
    assert state.regime["pump"].tolist() == ["regulating"] * 3 + ["full speed"] * 2
    assert np.all(np.diff(state.gauge_pressure["rail"]) < 0.0)
    assert np.all(state.pressure["outlet"] > state.pressure["rail"])


def test_controlled_pump_stops_when_another_source_holds_the_pressure():
    net = controlled()
    net.add_reservoir("bottle", pressure=ATMOSPHERE + 6e5)
    net.connect("bottle", "rail", Orifice(diameter="3 mm"), name="filling")
    state = net.solve(PETROL, {"rail": 20.0 * L_H})
    assert state.regime["pump"] == "stopped"
    assert abs(state.flow["pump"]) < 1e-2 * L_H


def test_controlled_pump_takes_only_a_pump():
    with pytest.raises(InputError, match="pump curve"):
        ControlledPump(pump=Orifice(diameter="1 mm"), set_pressure="400 kPa")


def test_check_valve_opens_at_its_cracking_pressure():
    difference = np.array([0.0, 2.9e3, 3.1e3, 2e4, -5e5])
    net = Network()
    net.add_reservoir("a", pressure=ATMOSPHERE + 6e5 + difference)
    net.add_reservoir("b", pressure=ATMOSPHERE + 6e5)
    net.connect("a", "b", CheckValve(), name="valve")
    state = net.solve(PETROL)
    assert state.regime["valve"].tolist() == ["shut", "shut", "open", "open", "shut"]
    assert np.all(np.abs(state.flow["valve"][[0, 1, 4]]) < 1e-3 * L_H)
    assert state.flow["valve"][3] > 100.0 * L_H


def test_lift_pump_surge_pot_and_overflow():
    """A lift pump fills a pot that overflows back; the main pump takes what the rail needs."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name, height in (("pot", 0.6), ("rail", 0.7)):
        net.add_node(name, height=height)
    net.connect("tank", "pot", parabolic_pump(head=5.0, fall=800.0), name="lift")
    net.connect("pot", "tank", Line(length=1.0, bore=0.012), name="overflow")
    net.connect("pot", "rail", parabolic_pump(), name="main")
    net.connect("rail", "pot", ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    state = net.solve(PETROL, {"rail": np.array([0.0, 60.0, 120.0]) * L_H})
    assert np.all(state.outcome.converged)
    overflow = state.flow["overflow"] / L_H
    assert np.all(np.diff(overflow) < 0.0)
    assert state.flow["lift"] - state.flow["overflow"] == pytest.approx(np.array([0.0, 60.0, 120.0]) * L_H, abs=1e-10)


def test_pumps_in_series_add_pressure_and_pumps_in_parallel_add_flow():
    def built(series: bool) -> Network:
        net = Network()
        net.add_reservoir("tank", pressure=ATMOSPHERE)
        net.add_node("between")
        net.add_node("rail")
        net.connect("tank", "between", parabolic_pump(), name="first")
        if series:
            net.connect("between", "rail", parabolic_pump(), name="second")
        else:
            net.connect("tank", "between", parabolic_pump(), name="second")
            net.connect("between", "rail", Line(length=0.01, bore=0.016), name="joint")
        return net

    draw = {"rail": 100.0 * L_H}
    alone = 740.0 * 9.80665 * (80.0 - 12500.0 * (100.0 / 3600.0) ** 2)
    assert built(True).solve(PETROL, draw).gauge_pressure["rail"] == pytest.approx(2.0 * alone, rel=1e-3)
    parallel = built(False).solve(PETROL, draw)
    assert parallel.flow["first"] / L_H == pytest.approx(50.0, rel=1e-6)


def test_a_regulator_that_refers_to_its_own_outlet_adds_the_back_pressure_to_the_rail():
    """By definition: inlet less outlet is set pressure plus droop times flow, whatever stands behind it."""
    for back_pressure in (0.0, 5e4):
        net = Network()
        net.add_reservoir("tank", pressure=ATMOSPHERE)
        net.add_reservoir("end", pressure=ATMOSPHERE + back_pressure)
        net.add_node("rail")
        net.add_node("back")
        net.connect("tank", "rail", parabolic_pump(), name="pump")
        net.connect("rail", "back", ReturnRegulator(set_pressure="300 kPa", droop=1e7), "regulator", reference="back")
        net.connect("back", "end", Line(length=3.0, bore=0.008), name="return")
        state = net.solve(PETROL)
        held = 3e5 + 1e7 * state.flow["regulator"]
        assert state.pressure["rail"] - state.pressure["back"] == pytest.approx(held, abs=2.0)


def test_the_table_of_links_says_above_what_each_set_pressure_is():
    net = with_return_line()
    net.add_reservoir("manifold", pressure=5e4)
    net.add_node("carburettor")
    regulator = ReducingRegulator(set_pressure="25 kPa")
    net.connect("rail", "carburettor", regulator, name="reducer", reference="manifold")
    net.connect("rail", "back", ReturnRegulator(set_pressure="400 kPa"), name="relief", reference="back")
    words = net.table()["set_pressure"]
    assert words["regulator"] == "above the atmosphere"
    assert words["reducer"] == "above 'manifold'"
    assert words["relief"] == "above its own outlet"
    assert words["return"] == ""
