"""What is refused before solving, and what is found but not refused."""

from __future__ import annotations

import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, parabolic_pump, pump_and_rail

from fuelsim.errors import InputError
from fuelsim.finding import Severity
from fuelsim.liquid import Liquid
from fuelsim.network.checks import check_name_is_new
from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReturnRegulator


def test_a_network_without_a_reservoir_is_refused():
    net = Network()
    net.add_node("a")
    net.add_node("b")
    net.connect("a", "b", Line(length=1.0, bore=0.008), name="line")
    with pytest.raises(InputError, match="no reservoir"):
        net.solve(PETROL)


@pytest.mark.parametrize("name", ["", "  ", 5, None])
def test_a_name_is_text_and_says_something(name):
    net = Network()
    for call in (lambda: net.add_node(name), lambda: net.add_reservoir(name, "1 bar")):
        with pytest.raises(InputError, match="name"):
            call()
    with pytest.raises(InputError, match="is text"):
        check_name_is_new(name, "link", ())


def test_an_island_is_refused_with_all_its_nodes():
    net = pump_and_rail()
    net.add_node("left")
    net.add_node("right")
    net.connect("left", "right", Line(length=1.0, bore=0.008), name="island")
    with pytest.raises(InputError, match="'left', 'right'"):
        net.solve(PETROL)


def test_duplicate_names_are_refused():
    net = pump_and_rail()
    with pytest.raises(InputError, match="already"):
        net.add_node("rail")
    with pytest.raises(InputError, match="already"):
        net.add_reservoir("rail", pressure=ATMOSPHERE)
    with pytest.raises(InputError, match="already"):
        net.connect("rail", "outlet", Line(length=1.0, bore=0.008), name="feed")


def test_connecting_never_makes_a_node_and_offers_the_nearest_name():
    with pytest.raises(InputError, match="did you mean 'outlet'"):
        pump_and_rail().connect("outlett", "rail", Line(length=1.0, bore=0.008), name="more")


@pytest.mark.parametrize("bore", [0.0, -0.008, 8.0, "0 mm", "8 m"])
def test_a_zero_negative_or_absurd_bore_is_refused(bore):
    with pytest.raises(InputError, match="bore"):
        Line(length=1.0, bore=bore)


def test_a_rising_pump_curve_is_refused():
    with pytest.raises(InputError):
        Pump.from_curve(flow=["50 L/h", "100 L/h"], pressure=["300 kPa", "400 kPa"])


def test_a_link_to_itself_and_something_that_is_no_part_are_refused():
    net = pump_and_rail()
    with pytest.raises(InputError, match="itself"):
        net.connect("rail", "rail", Line(length=1.0, bore=0.008), name="loop")
    with pytest.raises(InputError, match="not a Part"):
        net.connect("rail", "outlet", "a hose", name="hose")  # type: ignore[arg-type]


def test_an_unknown_draw_a_draw_at_a_reservoir_and_a_wrong_unit_are_refused():
    net = pump_and_rail()
    with pytest.raises(InputError, match="did you mean 'rail'"):
        net.solve(PETROL, {"raill": 1e-5})
    with pytest.raises(InputError, match="reservoir"):
        net.solve(PETROL, {"tank": 1e-5})
    with pytest.raises(InputError, match="rail"):
        net.solve(PETROL, {"rail": "20 kPa"})


def test_lists_of_points_that_do_not_fit_are_refused_naming_both():
    net = pump_and_rail(set_pressure=np.array([3e5, 4e5, 5e5]))
    with pytest.raises(InputError, match=r"draw at 'rail'.*|set pressure of 'regulator'.*") as caught:
        net.solve(PETROL, {"rail": np.array([1e-5, 2e-5])})
    assert "'rail'" in str(caught.value)
    assert "'regulator'" in str(caught.value)


def test_liquids_by_link_must_cover_all_links():
    net = pump_and_rail()
    with pytest.raises(InputError, match="'pump'"):
        net.solve({"feed": PETROL, "regulator": PETROL})
    with pytest.raises(InputError, match="did you mean 'feed'"):
        net.solve({"feeed": PETROL})
    with pytest.raises(InputError, match="mass_draw"):
        net.solve(dict.fromkeys(("pump", "feed", "regulator"), PETROL), {"rail": 1e-5})


def test_a_set_point_above_dead_head_is_a_finding_with_figures():
    findings = pump_and_rail(set_pressure="700 kPa").findings()
    assert [finding.subject for finding in findings] == ["regulator"]
    assert findings[0].severity == Severity.WARNING
    assert "700 kPa" in findings[0].statement
    assert "580.6 kPa" in findings[0].statement
    assert pump_and_rail().findings() == []


@pytest.mark.parametrize(
    ("rated", "severity", "than"),
    # Below the set pressure fails, below dead-head warns (common practice, no source).
    [("400 kPa", Severity.WARNING, "580.6 kPa"), ("250 kPa", Severity.FAILURE, "set pressure of 300 kPa")],
)
def test_a_rating_below_dead_head_warns_and_one_below_the_set_pressure_fails(rated, severity, than):
    net = pump_and_rail()
    weak = Line(length=3.0, bore=0.008, working_pressure=rated)
    (finding,) = net.with_parts({"feed": weak}).findings()
    assert finding.severity == severity
    assert rated in finding.statement
    assert than in finding.statement
    assert finding.caution


def test_dead_heads_of_pumps_in_series_add_up():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    net.add_node("between")
    net.add_node("rail")
    net.connect("tank", "between", parabolic_pump(head=20.0), name="lift")
    net.connect("between", "rail", parabolic_pump(), name="main")
    net.connect("rail", "tank", ReturnRegulator(set_pressure="700 kPa"), name="regulator")
    assert net.findings() == []


def test_a_reservoir_pressure_may_be_gauge_but_not_below_nothing():
    net = Network(atmospheric_pressure="95 kPa")
    net.add_reservoir("pressurised", pressure="5 kPa gauge")
    assert net.reservoirs["pressurised"].pressure == pytest.approx(1e5)
    with pytest.raises(InputError, match="positive"):
        net.add_reservoir("wrong", pressure=-1e5)


def test_draws_of_nothing_and_a_network_of_reservoirs_alone_solve():
    net = Network()
    net.add_reservoir("a", pressure=2e5)
    net.add_reservoir("b", pressure=1e5)
    net.connect("a", "b", Line(length=1.0, bore=0.006), name="line")
    assert net.solve(Liquid(740.0, 0.6e-6)).flow["line"] > 100.0 * L_H


def _pumps_side_by_side(weak, joint):
    """A pump of 600 kPa dead-head and one of 300 kPa, each from the tank, joined at the rail."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("rail", "outlet"):
        net.add_node(name)
    net.connect("tank", "rail", Pump.from_curve(["0 L/h", "200 L/h"], ["600 kPa", "0 kPa"]), name="strong")
    net.connect("tank", "outlet", weak, name="weak")
    net.connect("outlet", "rail", joint, name="joint")
    return net


def test_a_weak_pump_beside_a_strong_one_is_found_unless_a_check_valve_stands_behind_it():
    weak = Pump.from_curve(["0 L/h", "100 L/h"], ["300 kPa", "0 kPa"])
    line = Line(length=0.2, bore=0.008)
    net = _pumps_side_by_side(weak, line)
    (found,) = net.findings(PETROL)
    assert (found.severity, found.subject) == (Severity.WARNING, "weak")
    assert "300 kPa" in found.statement
    assert "600 kPa" in found.statement
    assert net.solve(PETROL, {"rail": 60.0 * L_H}).flow["weak"] < -L_H
    for other in (
        _pumps_side_by_side(weak.with_values({"check_valve": True}), line),
        _pumps_side_by_side(weak, CheckValve()),
    ):
        assert other.findings(PETROL) == []
        assert other.solve(PETROL, {"rail": 60.0 * L_H}).flow["weak"] > -1e-3 * L_H


def test_a_regulator_below_the_weak_pump_keeps_it_from_flowing_backwards():
    net = _pumps_side_by_side(Pump.from_curve(["0 L/h", "100 L/h"], ["300 kPa", "0 kPa"]), Line(length=0.2, bore=0.008))
    net.connect("rail", "tank", ReturnRegulator(set_pressure="250 kPa"), name="regulator")
    assert net.findings(PETROL) == []


def test_pumps_in_series_are_not_said_to_flow_backwards():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("middle", "rail"):
        net.add_node(name)
    net.connect("tank", "middle", Pump.from_curve(["0 L/h", "200 L/h"], ["40 kPa", "0 kPa"]), name="lift")
    net.connect("middle", "rail", Pump.from_curve(["0 L/h", "200 L/h"], ["600 kPa", "0 kPa"]), name="main")
    assert net.findings(PETROL) == []
