"""What a network is given, in SI: pressures of reservoirs, draws by volume and mass, liquids by link."""

from __future__ import annotations

import inspect

import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, pump_and_rail

from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.network.inputs import draws_of, liquids_of, reservoir_pressure
from fuelsim.network.network import Network
from fuelsim.network.state import ByName
from fuelsim.parts.line import Line


def test_draws_by_volume_and_by_mass_at_one_node_add_up():
    """10 L/h and 14.8 kg/h at 740 kg/m3 are 30 L/h."""
    elements = pump_and_rail().elements
    draws = draws_of(elements, {"rail": "10 L/h", "outlet": "5 L/h"}, {"rail": "14.8 kg/h"}, 740.0, True)
    assert draws == {"rail": pytest.approx(30.0 * L_H), "outlet": pytest.approx(5.0 * L_H)}
    assert draws_of(elements, None, {"rail": 7.4}, np.array([740.0, 370.0]), False)["rail"].tolist() == [0.01, 0.02]
    with pytest.raises(InputError, match="mass_draw"):
        draws_of(elements, {"rail": 1e-5}, None, 740.0, False)
    with pytest.raises(InputError, match="no such node"):
        draws_of(elements, {"rial": 1e-5}, None, 740.0, True)


def test_gauge_pressures_of_reservoirs_count_from_the_atmosphere_of_the_network():
    assert reservoir_pressure("20 kPa gauge", "a", 9e4) == pytest.approx(1.1e5)
    assert reservoir_pressure("110 kPa absolute", "a", 9e4) == pytest.approx(1.1e5)
    for nothing in (0.0, -1.0, "-90 kPa gauge", [1e5, 0.0]):
        with pytest.raises(InputError, match="positive"):
            reservoir_pressure(nothing, "a", 9e4)


def test_one_liquid_is_that_of_every_link_and_of_several_each_has_its_own():
    links = pump_and_rail().links
    other = Liquid(700.0, 0.5e-6)
    assert liquids_of(PETROL, links) == [PETROL] * 3
    assert liquids_of({"feed": other, "pump": PETROL, "regulator": PETROL}, links) == [PETROL, other, PETROL]
    with pytest.raises(InputError, match="no liquid"):
        liquids_of({"feed": other}, links)


def test_a_network_solves_with_its_own_liquid_and_draws_unless_given_others():
    """Those of a file are stood in for here by the network's own."""
    net = Network()
    net.add_reservoir("tank", pressure=2e5)
    net.add_node("end")
    net.connect("tank", "end", Line(length=1.0, bore=0.006), name="line")
    with pytest.raises(InputError, match="no liquid"):
        net.solve()
    net.liquid, net.draws = Liquid(800.0, 1e-6), {"end": 2e-5}
    state = net.solve()
    assert state.flow["line"] == pytest.approx(2e-5)
    assert state.mass_flow["line"] == pytest.approx(800.0 * 2e-5)
    assert net.solve(draw={"end": 1e-5}).flow["line"] == pytest.approx(1e-5)
    assert net.solve(mass_draw={"end": 0.004}).flow["line"] == pytest.approx(5e-6)
    assert net.solve(PETROL).flow["line"] == pytest.approx(0.0, abs=1e-12), "another liquid, and no draw of the file's"


def test_the_coefficients_of_a_solution_are_kept_while_nothing_changes():
    """A second solution with the same liquid object takes no coefficients anew; another liquid, or part, does."""
    net = pump_and_rail()
    net.solve(PETROL)
    first = net._known_inputs(PETROL)
    assert first is not None
    net.solve(PETROL, {"rail": 10.0 * L_H})
    assert net._known_inputs(PETROL) is first
    assert net._known_inputs(Liquid(740.0, 0.6e-6)) is None
    assert net.with_parts({"feed": Line(length=1.0, bore=0.008)})._known_inputs(PETROL) is None
    net.add_node("more")
    assert net._known_inputs(PETROL) is None


def test_states_hold_pressures_from_nothing_and_from_the_atmosphere():
    net = Network(atmospheric_pressure=9e4)
    net.add_reservoir("tank", pressure="20 kPa gauge")
    net.add_node("end")
    net.connect("tank", "end", Line(length=1.0, bore=0.006), name="line")
    state = net.solve(PETROL)
    assert state.pressure["end"] == pytest.approx(1.1e5)
    assert state.gauge_pressure["end"] == pytest.approx(2e4)
    ring = pump_and_rail().solve(PETROL, {"rail": np.array([20.0, 30.0]) * L_H})
    kept = ring.kept_pressure
    assert [any(row == pytest.approx(ring.pressure[name]) for name in ("outlet", "rail")) for row in kept]
    assert np.all(kept > 0.9 * ATMOSPHERE)


def test_liquids_by_link_that_change_between_two_solutions_are_taken_anew():
    net = Network()
    net.add_reservoir("high", pressure=2e5)
    net.add_reservoir("low", pressure=1e5)
    net.connect("high", "low", Line(length=1.0, bore=0.006), name="line")
    liquids = {"line": Liquid(740.0, 0.6e-6)}
    first = net.solve(liquids).flow["line"]
    liquids["line"] = Liquid(740.0, 60e-6)
    assert net.solve(liquids).flow["line"] < 0.7 * first


def test_a_result_knows_its_names_and_those_beside_them():
    found = ByName.of_values("node", {"rail": 3.0}, {"gallery": "rail"})
    assert "rail" in found
    assert "gallery" in found
    assert "tank" not in found
    assert list(found) == ["rail"]


def test_a_notebook_shows_how_much_there_is():
    assert "Network of 2 nodes, 1 reservoirs and 3 links" in pump_and_rail()._repr_html_()


def test_the_vapour_pressure_of_a_transient_is_by_default_that_of_a_petrol_of_60_kpa_at_20_degrees():
    """By the equation for motor petrol of EPA's AP-42, chapter 7.1 (from memory), in psi and degrees Rankine: with a
    slope of 3 of the distillation curve."""
    temperature, reid, root = 68.0 + 459.6, np.log10(60e3 / 6894.757), np.sqrt(3.0)
    exponent = (
        (0.7553 - 413.0 / temperature) * root * reid
        - (1.854 - 1042.0 / temperature) * root
        + (2416.0 / temperature - 2.013) * reid
        - 8742.0 / temperature
        + 15.64
    )
    default = inspect.signature(Network.transient).parameters["vapour_pressure"].default
    assert default == pytest.approx(6894.757 * np.exp(exponent), rel=0.05)
