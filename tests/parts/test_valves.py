"""Throttle valves, shut-off valves, flow control valves and loss curves."""

from __future__ import annotations

import fluids
import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.line import Line
from fuelsim.parts.part import Part
from fuelsim.parts.valves import FlowControlValve, LossCurve, ShutOffValve, ThrottleValve

PETROL = Liquid(740.0, 0.6e-6)
WATER = Liquid(1000.0, 1.0e-6)
ATMOSPHERE = 101325.0
L_H = 1.0 / 3.6e6


def between(part: Part, difference, liquid: Liquid = PETROL):
    """Flow through a part between two reservoirs, L/h, and its regime."""
    net = Network()
    net.add_reservoir("high", pressure=3e5 + np.asarray(difference, dtype=float))
    net.add_reservoir("low", pressure=3e5)
    net.connect("high", "low", part, name="part")
    state = net.solve(liquid)
    assert np.all(state.outcome.converged)
    return state.flow["part"] / L_H, state.regime["part"]


def test_a_throttle_valve_passes_its_flow_coefficient_at_1_bar_of_water():
    """IEC 60534: Kv in m3/h is the flow of water at 1 bar; `fluids` has it as cv = kv / 1.156 US gallons a minute."""
    flow, _ = between(ThrottleValve(flow_coefficient="1.2 m3/h"), 1e5, WATER)
    assert flow == pytest.approx(1200.0, rel=2e-3)
    kv = fluids.control_valve.Cv_to_Kv(fluids.control_valve.Kv_to_Cv(1.2))
    assert flow / 1e3 == pytest.approx(kv, rel=2e-3)


def test_a_throttle_valve_follows_its_characteristic():
    """Linear: half the flow at half the travel. Equal percentage with R 50: 50^-0.5 of it."""
    for characteristic, expected in (("linear", 0.5), ("equal percentage", 50.0**-0.5)):
        flows = [
            between(ThrottleValve(flow_coefficient="1 m3/h", position=position, characteristic=characteristic), 5e4)[0]
            for position in (1.0, 0.5)
        ]
        assert flows[1] / flows[0] == pytest.approx(expected, rel=5e-3)


def test_positions_may_be_one_for_each_point_and_nothing_passes_at_0():
    flow, _ = between(ThrottleValve(flow_coefficient="1 m3/h", position=[0.0, 0.25, 1.0]), np.full(3, 1e5))
    assert abs(flow[0]) < 1e-3
    assert np.all(np.diff(flow) > 100.0)


def test_a_shut_off_valve_is_its_loss_coefficient_or_nothing():
    """K rho v^2/2 by hand."""
    speed = 100.0 * L_H / (np.pi * 0.008**2 / 4.0)
    loss = 2.0 * 740.0 * speed**2 / 2.0
    flow, _ = between(ShutOffValve(bore="8 mm", loss_coefficient=2.0), loss)
    assert flow == pytest.approx(100.0, rel=2e-2)
    shut, _ = between(ShutOffValve(bore="8 mm", loss_coefficient=2.0, open=False), 1e6)
    assert abs(shut) < 2e-3


def test_a_flow_control_valve_limits_the_flow_passes_less_freely_and_nothing_back():
    """Set to 60 L/h; wide open it loses 20 kPa at 150 L/h, so 3.4 kPa at 60 L/h (3 % of the loss is viscous)."""
    flow, regime = between(FlowControlValve(set_flow="60 L/h"), np.array([-2e5, 1e3, 1e4, 1e5, 5e5]))
    assert regime.tolist() == ["shut", "wide open", "regulating", "regulating", "regulating"]
    assert abs(flow[0]) < 1e-3
    assert flow[2:] == pytest.approx(np.full(3, 60.0), rel=1e-4)
    needed = 20e3 * (0.03 * 60.0 / 150.0 + 0.97 * (60.0 / 150.0) ** 2)
    assert needed == pytest.approx(3.34e3, rel=1e-2)
    below, above = (between(FlowControlValve(set_flow="60 L/h"), share * needed)[0] for share in (0.9, 1.1))
    assert below < 59.0
    assert above == pytest.approx(60.0, rel=1e-3)


def test_a_flow_control_valve_in_a_loop_leaves_the_rest_to_the_other_way():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE + 3e5)
    for name in ("tee", "end"):
        net.add_node(name)
    net.connect("tank", "tee", Line(length=1.0, bore=0.008), name="feed")
    net.connect("tee", "end", FlowControlValve(set_flow="20 L/h"), name="valve")
    net.connect("tee", "end", Line(length=5.0, bore=0.006), name="way")
    state = net.solve(PETROL, {"end": 100.0 * L_H})
    assert state.flow["valve"] / L_H == pytest.approx(20.0, rel=1e-4)
    assert state.flow["way"] / L_H == pytest.approx(80.0, rel=1e-4)


def test_a_loss_curve_goes_through_its_points_both_ways_and_on_straight():
    curve = LossCurve(flow=["30 L/h", "60 L/h", "120 L/h"], pressure=["1 kPa", "4 kPa", "16 kPa"])
    flow, _ = between(curve, np.array([1e3, 4e3, 16e3, -4e3]))
    assert flow == pytest.approx(np.array([30.0, 60.0, 120.0, -60.0]), rel=5e-3)
    beyond, _ = between(curve, np.array([20e3, 24e3, 28e3]))
    assert np.diff(beyond)[0] == pytest.approx(np.diff(beyond)[1], rel=1e-6)


@pytest.mark.parametrize(
    "ratings",
    [
        {"flow": ["60 L/h", "30 L/h"], "pressure": ["1 kPa", "4 kPa"]},
        {"flow": ["30 L/h", "60 L/h"], "pressure": ["4 kPa", "4 kPa"]},
        {"flow": ["30 L/h", "60 L/h"], "pressure": ["4 kPa"]},
        {"flow": ["0 L/h", "60 L/h"], "pressure": ["0 kPa", "4 kPa"]},
    ],
)
def test_a_loss_curve_that_does_not_rise_is_refused(ratings):
    with pytest.raises(InputError):
        LossCurve(**ratings)


def test_lines_of_300_mm_and_a_kilometre_are_lines():
    """Darcy's equation by `fluids` for 1 km x 300 mm of water at 100 L/s."""
    speed = 0.1 / (np.pi * 0.3**2 / 4.0)
    factor = fluids.friction_factor(speed * 0.3 / 1e-6, eD=1e-4 / 0.3)
    loss = factor * 1000.0 / 0.3 * 1000.0 * speed**2 / 2.0
    flow, _ = between(Line(length="1 km", bore="300 mm", roughness="0.1 mm"), loss, WATER)
    assert flow * L_H == pytest.approx(0.1, rel=2e-3)


@pytest.mark.parametrize("position", [1.0, 0.4])
def test_a_throttle_valve_creeps_below_a_reynolds_number_of_100_in_its_bore(position):
    """By hand: Kv of a hole of bore d that loses its velocity head, Kv = pi/4 d^2 sqrt(2 bar/rho_w); at Re = 100 in it
    the linear part of the loss equals the quadratic one, Kv scaled by the position."""
    valve = ThrottleValve(flow_coefficient="0.6 m3/h", position=position)
    c = valve.coefficients(Liquid(740.0, 0.6e-6))
    passed = position * 0.6 / 3600.0
    bore = np.sqrt(4.0 / np.pi * passed / np.sqrt(2.0 * 1e5 / 1000.0))
    flow = 100.0 * 0.6e-6 * np.pi * bore / 4.0
    assert float(c.viscous) * flow == pytest.approx(float(c.inertial) * flow**2, rel=1e-9)
    assert float(c.inertial) * passed**2 == pytest.approx(0.74e5, rel=1e-9)
