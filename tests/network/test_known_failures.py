"""Failures reported of general-purpose network solvers, each tried here; the report is named in each test."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, looped_net, parabolic_pump, pump_and_rail

from fuelsim.errors import InputError, SolveError
from fuelsim.network.network import Network
from fuelsim.outcome import OutcomeCode
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator


@pytest.fixture(autouse=True)
def _no_warnings():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield


def test_injectors_all_shut_and_a_dead_ended_rail_solve():
    """pandapipes issue 570: a sink with zero flow made the matrix singular."""
    net = pump_and_rail()
    net.add_reservoir("manifold", pressure=ATMOSPHERE - 6e4)
    net.add_node("far_rail")
    net.connect("rail", "far_rail", Line(length=0.5, bore=0.008), name="crossover")
    for name in ("rail", "far_rail"):
        net.connect(name, "manifold", Injectors(count=4, mass_demand=0.0), name=f"bank_{name}")
    state = net.solve(PETROL)
    assert state.outcome.converged
    assert state.pressure["far_rail"] == pytest.approx(state.pressure["rail"], abs=1.0)
    assert abs(state.flow["bank_rail"]) < 1e-3 * L_H


def test_a_rail_behind_a_check_valve_with_no_flow_anywhere_solves():
    """pandapipes issue 570, without any return: the pump stands at its dead-head pressure."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("outlet", "rail"):
        net.add_node(name)
    net.connect("tank", "outlet", parabolic_pump(), name="pump")
    net.connect("outlet", "rail", CheckValve(), name="valve")
    state = net.solve(PETROL)
    dead_head = 740.0 * 9.80665 * 80.0
    assert state.gauge_pressure["rail"] == pytest.approx(dead_head - 3e3, rel=1e-4)
    assert state.regime["pump"] == "dead-headed"


@pytest.mark.parametrize("valves", [True, False])
def test_two_unequal_pumps_in_parallel_converge_at_any_demand(valves):
    """pandapipes issue 693: two parallel pumps did not converge."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("rail")
    for name, head, fall in (("strong", 80.0, 12500.0), ("weak", 45.0, 20000.0)):
        net.add_node(name)
        net.connect("tank", name, parabolic_pump(head, fall), name=f"{name}_pump")
        joint = CheckValve() if valves else Line(length=0.2, bore=0.008)
        net.connect(name, "rail", joint, name=f"{name}_joint")
    demand = np.linspace(0.0, 450.0, 91) * L_H
    state = net.solve(PETROL, {"rail": demand})
    assert np.all(state.outcome.converged)
    if valves:
        assert np.min(state.flow["weak_pump"]) > -1e-3 * L_H
        assert state.regime["weak_joint"][0] == "shut"


def test_demand_beyond_the_pump_is_one_clear_outcome_that_names_the_node():
    """pandapipes issues 188 and 337: "did not converge" and "converged" both printed, and negative pressures."""
    demand = np.array([100.0, 250.0, 300.0, 400.0]) * L_H
    state = pump_and_rail().solve(PETROL, {"rail": demand})
    assert state.outcome.code.tolist() == [0, 0, OutcomeCode.OUTSIDE_RATINGS, OutcomeCode.OUTSIDE_RATINGS]
    assert "'rail'" in state.outcome.reason[2]
    assert "300 L/h" in state.outcome.reason[2]
    assert "'pump'" in state.outcome.reason[2]
    for results in (state.pressure, state.gauge_pressure, state.flow, state.mass_flow):
        for values in results.values():
            assert np.all(np.isfinite(values[:2]))
            assert np.all(np.isnan(values[2:]))
    with pytest.raises(SolveError, match="more than 'pump' can push") as caught:
        pump_and_rail().solve(PETROL, {"rail": demand}, raise_on_failure=True)
    assert caught.value.outcome.code.tolist() == state.outcome.code.tolist()


def reducing_below_return(sustained: float, reduced: float) -> Network:
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("rail", "bowl"):
        net.add_node(name)
    net.connect("tank", "rail", parabolic_pump(), name="pump")
    net.connect("rail", "tank", ReturnRegulator(set_pressure=sustained, droop=1e7), name="return")
    net.connect("rail", "bowl", ReducingRegulator(set_pressure=reduced, droop=1e7), name="reducing")
    return net


def test_a_return_regulator_upstream_of_a_reducing_one_keeps_both_states_right():
    """EPANET issues 692 and 892: a reducer below a sustainer took the wrong state."""
    state = reducing_below_return(3e5, 1e5).solve(PETROL, {"bowl": 50.0 * L_H})
    assert state.gauge_pressure["rail"] == pytest.approx(3e5, rel=1e-2)
    assert state.gauge_pressure["bowl"] == pytest.approx(1e5, rel=1e-2)
    assert (state.regime["return"], state.regime["reducing"]) == ("regulating", "regulating")


def test_a_set_point_the_pump_cannot_reach_is_no_failure():
    """EPANET issues 692 and 892, and a set point above the pump: regulators shut and wide open."""
    state = reducing_below_return(9e5, 8e5).solve(PETROL, {"bowl": 50.0 * L_H})
    assert state.outcome.converged
    assert (state.regime["return"], state.regime["reducing"]) == ("shut", "wide open")


def test_a_pump_off_both_ends_of_its_curve_gives_no_absurd_pressure():
    """EPANET issues 582, 586 and 668: a pump off its curve, absurd heads."""
    for back, least, most in ((7e5, -60e-6, 0.0), (-3e4, 80e-6, 90e-6)):
        net = Network()
        net.add_reservoir("tank", pressure=ATMOSPHERE)
        net.add_reservoir("held", pressure=ATMOSPHERE + back)
        net.connect("tank", "held", parabolic_pump(), name="pump")
        state = net.solve(PETROL)
        assert least < state.flow["pump"] < most
        assert state.regime["pump"] == ("reverse" if back > 0.0 else "past run-out")


def test_solved_means_that_the_equations_are_met():
    """EPANET issues 161 and 661: "converged" with 8753 m of head error."""
    net, draws = looped_net()
    factors = np.linspace(0.0, 2.0, 101)
    state = net.solve(PETROL, {name: draw * factors for name, draw in draws.items()})
    solved = state.outcome.converged
    assert solved[:90].all()
    assert np.max(state.outcome.pressure_residual[solved]) < 1.0
    assert np.max(state.outcome.flow_residual[solved]) < 1e-6
    assert np.max(state.outcome.mass_residual[solved]) < 1e-6
    pump = net.links["pump"].part
    assert pump.coefficients(PETROL).rise[0] == pytest.approx(740.0 * 9.80665 * 80.0, rel=1e-5)
    largest = np.max(np.abs([state.flow[name] for name in net.links]), axis=0)
    for node in net.nodes:
        inflow = sum(state.flow[name] * ((link.down == node) - (link.up == node)) for name, link in net.links.items())
        imbalance = np.abs(inflow - draws.get(node, 0.0) * factors) / largest
        assert np.max(imbalance[solved]) < 1e-6


def test_injectors_draw_nothing_backwards_from_the_manifold():
    """EPANET issues 659 and 722: emitters drew backwards. A boosted manifold stands above the rail."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_reservoir("manifold", pressure=ATMOSPHERE + 1.5e5)
    net.add_node("rail")
    net.connect("tank", "rail", parabolic_pump(head=10.0), name="pump")
    net.connect("rail", "manifold", Injectors(count=4, mass_demand=0.01), name="injectors")
    state = net.solve(PETROL)
    assert abs(state.flow["injectors"]) < 1e-3 * L_H
    assert state.regime["injectors"] == "back-pressured"


def test_an_unconnected_node_is_refused_by_name():
    """WNTR issues 81, 187 and 217, tespy 117, 187 and 314: "Jacobian is singular" and no hint."""
    net = pump_and_rail()
    net.add_node("forgotten")
    with pytest.raises(InputError, match="'forgotten'"):
        net.solve(PETROL)


def test_a_tiny_leak_solves():
    """WNTR issues 81, 187 and 217: 0.1 L/h through a leak."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("rail")
    net.connect("tank", "rail", parabolic_pump(), name="pump")
    net.connect("rail", "tank", Orifice(diameter="0.05 mm"), name="pinhole")
    state = net.solve(PETROL)
    assert state.outcome.converged
    assert 0.01 < state.flow["pinhole"] / L_H < 0.5


def test_the_answer_does_not_depend_on_the_units_it_was_asked_in():
    """WNTR issues 243, 268 and 443: answers depended on the units of the file."""
    asked = {
        "SI": ("3 m", "0.008 m", "300000 Pa", "2.0e-5 m3/s"),
        "metric workshop": ("300 cm", "8 mm", "300 kPa", "72 L/h"),
        "US workshop": (f"{3.0 / 0.3048!r} ft", f"{8.0 / 25.4!r} in", f"{3e5 / 6894.757293168361!r} psi", None),
    }
    found = []
    for length, bore, pressure, draw in asked.values():
        net = pump_and_rail(set_pressure=pressure, droop=1e7)
        net = net.with_parts({"feed": Line(length=length, bore=bore, loss_coefficient=1.0)})
        flow = draw if draw is not None else f"{2e-5 * 3600.0 / 3.785411784e-3!r} gph"
        found.append(net.solve(PETROL, {"rail": flow}))
    for state in found[1:]:
        for name in ("outlet", "rail"):
            assert state.pressure[name] == pytest.approx(found[0].pressure[name], rel=1e-12)
        for name in ("pump", "feed", "regulator"):
            assert state.flow[name] == pytest.approx(found[0].flow[name], rel=1e-11)


def test_no_law_jumps_where_a_line_leaves_laminar_flow():
    """Modelica Standard Library issue 3758: a jump in wall friction at small differences."""
    pressure = ATMOSPHERE + np.linspace(50.0, 600.0, 4001)
    net = Network()
    net.add_reservoir("a", pressure=pressure)
    net.add_reservoir("b", pressure=ATMOSPHERE)
    net.connect("a", "b", Line(length=3.0, bore=0.008), name="line")
    flow = net.solve(PETROL).flow["line"]
    steps = np.diff(flow)
    assert steps.min() > 0.0
    assert steps.max() < 5.0 * np.median(steps)


def test_tiny_resistances_beside_large_ones_give_the_right_answer():
    """Gorev et al. 2022, doi 10.1007/s11269-022-03100-9: tiny resistances converged to wrong answers."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE + 3e5)
    net.add_reservoir("end", pressure=ATMOSPHERE)
    for name in ("a", "b", "c"):
        net.add_node(name)
    net.connect("tank", "a", Orifice(diameter="0.3 mm"), name="jet")
    for name, up, down in (("ab", "a", "b"), ("bc", "b", "c"), ("ac", "a", "c")):
        net.connect(up, down, Line(length=0.01, bore=0.02), name=name)
    net.connect("c", "end", Orifice(diameter="0.5 mm"), name="bleed")
    state = net.solve(PETROL)
    # The tubes are almost nothing, so jet and bleed share the pressure as the fourth power of their diameters.
    share = 0.3**4 / (0.3**4 + 0.5**4)
    assert state.gauge_pressure["b"] == pytest.approx(3e5 * share, rel=2e-2)
    assert state.flow["ac"] == pytest.approx(2.0 * state.flow["ab"], rel=1e-6)
    assert state.flow["jet"] == pytest.approx(state.flow["bleed"], rel=1e-9)
