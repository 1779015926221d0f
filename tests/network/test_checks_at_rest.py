"""Pressures that pumps, regulators and reducers can hold at each node without flow, added up by hand."""

from __future__ import annotations

import pytest
from plumbing import ATMOSPHERE, PETROL

from fuelsim.finding import Severity
from fuelsim.network.checks import dead_head_pressures
from fuelsim.network.inp_parts import CurvePump
from fuelsim.network.network import Network
from fuelsim.parts.carburettor import Carburettor
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator

LINE = Line(length=0.5, bore=0.008)


def pump(kilopascals):
    return Pump.from_curve(["0 L/h", "100 L/h"], [f"{kilopascals} kPa", "0 kPa"])


def joined(*links):
    """Return a network of links (up, down, part), named by their number; 'tank' and 'bowl' are reservoirs."""
    net = Network()
    for name in sorted({name for up, down, _ in links for name in (up, down)}):
        if name in ("tank", "bowl"):
            net.add_reservoir(name, pressure=ATMOSPHERE)
        else:
            net.add_node(name)
    for number, (up, down, part) in enumerate(links):
        net.connect(up, down, part, name=f"{type(part).__name__} {number}")
    return net


@pytest.mark.parametrize(
    ("links", "expected"),
    [
        # Lines pass both ways, however they are written; a pump's inlet is not under its own pressure.
        (
            [("inlet", "tank", LINE), ("inlet", "outlet", pump(600)), ("rail", "outlet", LINE)],
            {"inlet": 0.0, "outlet": 600.0, "rail": 600.0},
        ),
        # In parallel the stronger one counts, in series both do.
        ([("tank", "rail", pump(300)), ("tank", "rail", pump(600))], {"rail": 600.0}),
        ([("tank", "rail", pump(600)), ("tank", "rail", pump(300))], {"rail": 600.0}),
        ([("tank", "middle", pump(40)), ("middle", "rail", pump(300))], {"middle": 40.0, "rail": 340.0}),
        # What flows back to the tank lifts nothing there, nor at the inlet.
        (
            [("tank", "inlet", LINE), ("inlet", "rail", pump(300)), ("rail", "tank", LINE)],
            {"inlet": 0.0, "rail": 300.0},
        ),
        # A pump in a loop adds its rise once.
        ([("tank", "a", pump(40)), ("a", "b", pump(300)), ("b", "a", LINE)], {"a": 340.0, "b": 340.0}),
    ],
)
def test_dead_heads_add_up_along_each_way(links, expected):
    reach = dead_head_pressures(joined(*links).elements, PETROL)
    assert {name: value / 1e3 for name, value in reach.items() if name != "tank"} == pytest.approx(expected)


def of_valve(*links):
    """Return what is found of a float valve of 40 kPa at 'inlet' of a network."""
    carburettor = Carburettor(demand="20 L/h", flooding_pressure="40 kPa")
    found = joined(*links, ("inlet", "bowl", carburettor)).findings(PETROL)
    return [item.statement for item in found if item.subject.startswith("Carburettor")]


def reducer(kilopascals):
    return ReducingRegulator(set_pressure=f"{kilopascals} kPa", droop="0.001 kPa h/L")


@pytest.mark.parametrize(
    ("links", "standing"),
    [
        ([("outlet", "a", reducer(20)), ("a", "b", LINE), ("b", "inlet", LINE)], None),
        ([("outlet", "a", reducer(50)), ("a", "b", LINE), ("b", "inlet", LINE)], "50 kPa"),
        # Of several reducers the highest counts; one way without any, and the pumps' dead head stands there.
        ([("outlet", "a", reducer(20)), ("a", "inlet", LINE), ("outlet", "inlet", reducer(60))], "60 kPa"),
        ([("outlet", "inlet", reducer(20)), ("outlet", "a", reducer(60)), ("a", "inlet", LINE)], "60 kPa"),
        ([("outlet", "a", reducer(20)), ("a", "inlet", LINE), ("outlet", "inlet", LINE)], "300 kPa"),
        ([("outlet", "a", LINE), ("a", "inlet", LINE)], "300 kPa"),
        (
            [("outlet", "a", LINE), ("a", "inlet", LINE), ("outlet", "tank", ReturnRegulator(set_pressure="250 kPa"))],
            "300 kPa",
        ),
        # A ring of lines before the valve is gone round once.
        (
            [("outlet", "a", reducer(20)), ("a", "b", LINE), ("b", "a", LINE), ("b", "inlet", LINE)],
            None,
        ),
    ],
)
def test_a_float_is_judged_by_what_stands_at_its_inlet(links, standing):
    found = of_valve(("tank", "outlet", pump(300)), *links)
    if standing is None:
        assert not found
    else:
        assert f"{standing} may stand" in found[0]


def test_a_rating_is_judged_by_the_highest_regulator_that_only_lines_join_it_to():
    """Behind another pump, or at the reservoir's side, the regulator holds nothing."""
    weak = Line(length=1.0, bore=0.008, working_pressure="250 kPa")
    links = [
        ("inlet", "tank", weak),
        ("inlet", "outlet", pump(600)),
        ("rail", "outlet", weak),
        ("rail", "far", LINE),
        ("rail", "tank", ReturnRegulator(set_pressure="200 kPa")),
        ("far", "tank", ReturnRegulator(set_pressure="400 kPa")),
    ]
    found = {item.subject: item for item in joined(*links).findings(PETROL)}
    assert set(found) == {"Line 2"}
    assert found["Line 2"].severity is Severity.FAILURE
    assert "set pressure of 400 kPa" in found["Line 2"].statement
    # Only the 200 kPa regulator: above it, but below what the pump reaches.
    found = {item.subject: item for item in joined(*links[:5]).findings(PETROL)}
    assert found["Line 2"].severity is Severity.WARNING


@pytest.mark.parametrize(
    ("links", "backwards"),
    [
        # Beside a stronger pump; one that is lifted may be the stronger, and then the other flows backwards.
        ([("tank", "rail", pump(300)), ("tank", "rail", pump(600))], {"Pump 0": (300, 600)}),
        ([("tank", "low", pump(400)), ("low", "rail", pump(300)), ("tank", "rail", pump(600))], {"Pump 2": (600, 700)}),
        ([("tank", "low", pump(100)), ("low", "rail", pump(300)), ("tank", "rail", pump(350))], {"Pump 2": (350, 400)}),
        # A check valve keeps the strong pump's pressure from the weak one one way round only.
        (
            [("tank", "a", pump(300)), ("a", "rail", CheckValve()), ("tank", "rail", pump(600))],
            {},
        ),
        (
            [("tank", "a", pump(300)), ("rail", "a", CheckValve()), ("tank", "rail", pump(600))],
            {"Pump 0": (300, 600)},
        ),
        # Two in a row beside a stronger one: the second keeps its pressure from the first.
        (
            [("tank", "m", pump(200)), ("m", "rail", pump(200)), ("tank", "rail", pump(500))],
            {"Pump 1": (400, 500)},
        ),
    ],
)
def test_pumps_flow_backwards_where_the_others_hold_more(links, backwards):
    found = {
        item.subject: item.statement for item in joined(*links).findings(PETROL) if item.subject.startswith("Pump")
    }
    assert set(found) == set(backwards)
    for name, (own, others) in backwards.items():
        assert f"of {own} kPa; they reach {others} kPa" in found[name]


def test_a_pump_of_the_file_s_head_is_judged_in_the_file_s_liquid_and_else_in_petrol(tmp_path):
    """50 m are 490 kPa of water at 998 kg/m3, 363 kPa of petrol at 740 kg/m3."""
    net = joined(
        ("tank", "rail", CurvePump((0.0, 1e-5, 2e-5), (50.0, 40.0, 0.0))),
        ("rail", "tank", ReturnRegulator(set_pressure="430 kPa")),
    )
    (finding,) = net.findings()
    assert "362.8 kPa" in finding.statement
    path = tmp_path / "net.inp"
    path.write_text(
        "[JUNCTIONS]\nJ 0 1\n[RESERVOIRS]\nR 0\n[PUMPS]\nU R J HEAD c\n[CURVES]\nc 0 50\nc 20 40\nc 40 10\n"
        "[OPTIONS]\nUNITS LPS\nHEADLOSS D-W\n"
    )
    net = Network.from_inp(path)
    net.connect("J", "R", ReturnRegulator(set_pressure="600 kPa"), name="regulator")
    (finding,) = net.findings()
    assert "489.4 kPa" in finding.statement
