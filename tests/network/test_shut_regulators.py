"""Regulators that are shut, with something else that is closed on one side of them."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, parabolic_pump
from scipy.interpolate import PchipInterpolator

from fuelsim.fuel.fuel import Fuel
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.part import Part
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator

PUMP_FLOW, PUMP_PRESSURE = [0.0, 120.0, 200.0], [600.0, 400.0, 0.0]
"""L/h and kPa."""


def summer_petrol() -> Liquid:
    fuel, temperature = Fuel.named("summer_e10"), 303.15
    density = float(fuel.density(temperature))
    return Liquid(density, float(fuel.viscosity(temperature)) / density)


def return_closed_by(closed: Part | None) -> Network:
    """Tank, pump, feed, rail, return regulator, return line, and what closes the return (None is a plug)."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("outlet", "rail", "back", "end"):
        net.add_node(name)
    curve = Pump.from_curve(
        flow=[f"{flow} L/h" for flow in PUMP_FLOW], pressure=[f"{pressure} kPa" for pressure in PUMP_PRESSURE]
    )
    net.connect("tank", "outlet", curve.at(), name="pump")
    net.connect("outlet", "rail", Line(length=3.0, bore=0.008), name="feed")
    net.connect("rail", "back", ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    net.connect("back", "end", Line(length=3.0, bore=0.006), name="return")
    if closed is not None:
        net.connect("end", "tank", closed, name="closed")
    return net


def rail_by_hand(draw: float, liquid: Liquid) -> float:
    """Gauge pressure of the rail, kPa, with no flow through the regulator: pump less the loss of the feed."""
    speed = draw * L_H / (np.pi * 0.008**2 / 4.0)
    reynolds = speed * 0.008 / liquid.kinematic_viscosity
    factor = fluids.friction_factor(reynolds, eD=1.5e-6 / 0.008)
    loss = factor * 3.0 / 0.008 * liquid.density * speed**2 / 2.0
    # The curve through the points is the monotone cubic of Fritsch and Carlson (1980), as scipy has it.
    return float(PchipInterpolator(PUMP_FLOW, PUMP_PRESSURE)(draw)) - loss / 1e3


@pytest.mark.parametrize(("draw", "rail"), [(150.0, 284.9), (160.0, 234.3), (170.0, 179.1)])
def test_a_shut_return_regulator_before_a_closed_check_valve_sucks_nothing(draw, rail):
    """The pump gives the draw alone; behind the regulator the pressure stays between tank and cracking pressure."""
    liquid = summer_petrol()
    net = return_closed_by(CheckValve(cracking_pressure="3 kPa"))
    state = net.solve(liquid, {"rail": draw * L_H})
    assert state.outcome.converged
    assert rail_by_hand(draw, liquid) == pytest.approx(rail, abs=0.3)
    assert state.gauge_pressure["rail"] / 1e3 == pytest.approx(rail_by_hand(draw, liquid), abs=0.3)
    assert state.regime["regulator"] == "shut"
    for node in ("back", "end"):
        assert -1.0 <= state.gauge_pressure[node] <= 3e3 + 1.0


def test_a_plugged_return_leaves_pump_and_draw_alone():
    """No flow returns at any draw, so that the rail stands where pump and feed put it, above 300 kPa too."""
    liquid = summer_petrol()
    draws = np.array([120.0, 150.0, 160.0, 170.0])
    state = return_closed_by(None).solve(liquid, {"rail": draws * L_H})
    assert state.outcome.converged.all()
    for point, draw in enumerate(draws.tolist()):
        assert state.gauge_pressure["rail"][point] / 1e3 == pytest.approx(rail_by_hand(draw, liquid), abs=0.5)
    assert np.abs(state.flow["regulator"]).max() < 1e-9 * L_H
    assert np.all(state.gauge_pressure["end"] > -1.0)


def test_a_reducing_regulator_holds_a_zone_that_draws_nothing():
    """At no flow the seat shuts at the set pressure, whatever stands before it."""
    net = Network()
    net.add_reservoir("supply", pressure=ATMOSPHERE + np.array([1e5, 3e5, 6e5]))
    for name in ("zone", "end"):
        net.add_node(name)
    net.connect("supply", "zone", ReducingRegulator(set_pressure="25 kPa"), name="regulator")
    net.connect("zone", "end", Line(length=1.0, bore=0.006), name="branch")
    state = net.solve(PETROL)
    assert state.outcome.converged.all()
    assert state.gauge_pressure["end"] == pytest.approx(np.full(3, 25e3), abs=1.0)


def test_a_reducing_regulator_with_nothing_before_it_stays_shut_below_a_higher_outlet():
    """Its outlet is held at 200 kPa by others; before it, behind a shut check valve, nothing moves."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("before", "zone"):
        net.add_node(name)
    net.connect("tank", "zone", parabolic_pump(head=40.0), name="pump")
    net.connect("zone", "tank", Orifice(diameter="1 mm"), name="bleed")
    net.connect("before", "zone", ReducingRegulator(set_pressure="25 kPa"), name="regulator")
    net.connect("tank", "before", CheckValve(cracking_pressure="3 kPa"), name="closed")
    state = net.solve(PETROL)
    assert state.outcome.converged
    assert abs(state.flow["regulator"]) < 1e-3 * L_H
    assert -3e3 - 1.0 <= state.gauge_pressure["before"] <= state.gauge_pressure["zone"] + 1.0
