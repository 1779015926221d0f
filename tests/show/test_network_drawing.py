"""The schematic drawing of networks."""

from __future__ import annotations

import numpy as np

from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReturnRegulator
from fuelsim.show.network_drawing import draw_network, layers
from fuelsim.show.style import png_bytes

PETROL = Liquid(density=740.0, kinematic_viscosity=0.6e-6)


def twin_rails() -> Network:
    net = Network()
    net.add_reservoir("tank", pressure=101325.0)
    for name in ("outlet", "tee", "left rail", "right rail", "back"):
        net.add_node(name)
    pump = Pump.from_curve(flow=["0 L/h", "150 L/h", "250 L/h"], pressure=["650 kPa", "400 kPa", "100 kPa"])
    net.connect("tank", "outlet", pump, name="pump")
    net.connect("outlet", "tee", CheckValve(), name="check")
    for side in ("left", "right"):
        net.connect("tee", f"{side} rail", Line(length=0.5, bore=0.008), name=f"{side} branch")
    net.connect("left rail", "right rail", Line(length=0.3, bore=0.006), name="crossover")
    net.connect("right rail", "back", ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    net.connect("back", "tank", Line(length=3.0, bore=0.008), name="return $line$")
    return net


def texts(drawn) -> list[str]:
    return [text.get_text() for text in drawn.axes[0].texts]


def test_nodes_lie_in_layers_by_distance_from_the_tank():
    found = layers(twin_rails())
    assert (found["tank"], found["outlet"], found["tee"], found["left rail"], found["back"]) == (0, 1, 2, 3, 4)


def test_drawing_without_a_state_names_everything():
    drawn = draw_network(twin_rails())
    said = texts(drawn)
    for name in ("tank", "left rail", "pump", "crossover", "return $line$"):
        assert name in said
    assert png_bytes(drawn).startswith(b"\x89PNG")


def test_drawing_with_a_state_carries_pressures_flows_and_regimes():
    net = twin_rails()
    state = net.solve(PETROL, {"left rail": np.array([10.0, 240.0]) / 3.6e6})
    said = "\n".join(texts(draw_network(net, state, point=0)))
    assert f"{state.gauge_pressure['left rail'][0] / 1e3:.4g} kPa gauge" in said
    assert f"{state.flow['pump'][0] * 3.6e6:.4g} L/h" in said
    assert "regulating" in said
    assert "shut" in "\n".join(texts(draw_network(net, state, point=1)))


def test_an_unsolved_point_is_said_so():
    net = twin_rails()
    state = net.solve(PETROL, {"left rail": "900 L/h"})
    assert "unsolved" in "\n".join(texts(draw_network(net, state)))
