"""Small input files that differ from one another in one thing, each solved as EPANET's own engine solves it."""

from __future__ import annotations

import numpy as np
import pytest
from test_inp_file import by_epanet

from fuelsim.errors import InputError
from fuelsim.liquid import Liquid
from fuelsim.network.inp_file import InpFile, _head_curve
from fuelsim.network.inp_parts import Closed, OneWay, OpenValve, Reducing
from fuelsim.network.network import Network

pytest.importorskip("epanet.toolkit")

FRAME = """
[JUNCTIONS]
A 10 0
B 5 {demand}
[RESERVOIRS]
R 60
[TANKS]
T 30 4 0 10 12 0
[PIPES]
P R A 100 600 0.1 0
{links}
[OPTIONS]
HEADLOSS D-W
ACCURACY 0.000001
TRIALS 200
{options}
[REPORT]
STATUS NO
MESSAGES NO
"""
"""A is fed by a wide pipe, B by what the case adds; both are in metres or feet, litres or gallons."""
TWO_WAYS = "Q A B 10 80 0.1 4\nK A B 10 300 0.1 0 Open\n"


def frame(links: str, options: str = "UNITS LPS", demand: str = "20") -> str:
    return FRAME.format(links=links, options=options, demand=demand)


def agree(tmp_path, text, us=False):
    """Check heads and flows against EPANET's: within 0.2 % of their spread, its friction being Swamee-Jain's."""
    path = tmp_path / "net.inp"
    path.write_text(text, encoding="utf-8")
    length, flow_unit = (0.3048, 3.785411784e-3 / 60.0) if us else (1.0, 1e-3)
    heads, flows = by_epanet(path, length, flow_unit)
    net = Network.from_inp(path)
    state = net.solve()
    assert state.outcome.converged
    heights = {name: node.height for name, node in (*net.nodes.items(), *net.reservoirs.items())}
    spread = max(heads.values()) - min(heads.values())
    for name, head in heads.items():
        ours = heights[name] + state.gauge_pressure[name] / (net.liquid.density * 9.80665)
        assert ours == pytest.approx(head, abs=2e-3 * spread), name
    largest = max(abs(flow) for flow in flows.values())
    for name, flow in flows.items():
        assert state.flow[name] == pytest.approx(flow, abs=2e-3 * largest), name
    return heads, flows


@pytest.mark.filterwarnings("ignore:WARNING")
@pytest.mark.parametrize("gravity", [1.0, 0.75])
@pytest.mark.parametrize(
    ("kind", "setting", "options"),
    [
        ("PRV", 30, "UNITS LPS"),
        ("PRV", 200, "UNITS LPS\nPRESSURE KPA"),
        ("PRV", 25, "UNITS LPS\nPRESSURE PSI"),
        ("PRV", 12, "UNITS GPM"),
        ("PRV", 90, "UNITS GPM\nPRESSURE KPA"),
        ("PRV", 9, "UNITS GPM\nPRESSURE METERS"),
        ("PSV", 40, "UNITS LPS"),
        ("PSV", 250, "UNITS LPS\nPRESSURE KPA"),
        ("PSV", 14, "UNITS GPM"),
    ],
)
def test_pressure_settings_are_heads_of_the_file_s_liquid(tmp_path, kind, setting, options, gravity):
    """A setting in psi or kPa holds a higher column of a lighter liquid; one in metres is a column already."""
    links = f"[JUNCTIONS]\nC 10\n[PIPES]\nQ A C 1 100 0.1 50\n[VALVES]\nV C B 100 {kind} {setting} 0\n"
    if kind == "PSV":
        links = f"[PIPES]\nS B T 1 100 0.1 0\n{links}"
    heads, _ = agree(tmp_path, frame(links, f"{options}\nSPECIFIC GRAVITY {gravity}"), us="GPM" in options)
    assert heads["C"] - heads["B"] > 0.5


@pytest.mark.filterwarnings("ignore:WARNING")
@pytest.mark.parametrize(
    "links",
    [
        "[VALVES]\nV A B 100 TCV 3 7\n",
        "[VALVES]\nV A B 100 TCV 12 7\n",
        "[VALVES]\nV A B 100 TCV 3 7\n[STATUS]\nV OPEN\n",
        "[VALVES]\nV A B 100 TCV 3 0\n[STATUS]\nV 9\n",
        "[VALVES]\nV A B 100 PRV 30 7\n[STATUS]\nV OPEN\n",
        "[VALVES]\nV A B 100 PRV 30 7\n[STATUS]\nV 35\n",
        "[VALVES]\nV A B 100 PRV 52 7\n",
        "[VALVES]\nV A B 80 FCV 15 0\n[PIPES]\nS B T 10 100 0.1 0\n",
        "[VALVES]\nV A B 80 FCV 90 3\n[PIPES]\nS B T 10 100 0.1 0\n",
        f"{TWO_WAYS}[VALVES]\nV A B 100 TCV 0.5 0\n[STATUS]\nV CLOSED\n",
        "[VALVES]\nV A B 100 GPV loss\n[CURVES]\nloss 0 0\nloss 10 1\nloss 20 5\nloss 30 9\n",
        f"{TWO_WAYS}[STATUS]\nK CLOSED\n",
        "Q A B 10 80 0.1 4 CLOSED\nK A B 10 80 0.1 4 Open\n",
        "Q A B 10 80 0.1\nS B T 10 60 0.1 3\n",
        "Q A B 10 80 0.1 Open\nS B T 10 60 0.1 3\n",
        "Q A B 10 80 0.1 0 CV\nS B T 10 60 0.1 3\n",
        "Q B A 10 80 0.1 0 CV\nS B T 10 60 0.1 3\n",
    ],
)
def test_valves_and_pipes_lose_what_they_lose_there(tmp_path, links):
    agree(tmp_path, frame(links))


@pytest.mark.filterwarnings("ignore:WARNING")
@pytest.mark.parametrize(
    "pump",
    [
        "HEAD one",
        "HEAD one SPEED 0.8",
        "SPEED 1.1 HEAD three",
        "HEAD three PATTERN slow",
        "HEAD three\n[STATUS]\nU 0.9",
        "HEAD three SPEED 0.5\n[STATUS]\nU CLOSED",
        "HEAD three SPEED 0",
        "HEAD four SPEED 0.95",
        "HEAD late",
        "HEAD straight",
    ],
)
def test_pumps_lift_by_their_curves_at_their_speed(tmp_path, pump):
    """One point, three from no flow on, straight lines between others, with the affinity laws for the speed."""
    curves = (
        "[CURVES]\none 30 24\nthree 0 40\nthree 25 33\nthree 50 12\nfour 0 40\nfour 20 36\nfour 40 24\nfour 60 6\n"
        "late 5 40\nlate 25 33\nlate 60 8\nstraight 0 40\nstraight 60 10\n[PATTERNS]\nslow 0.7 1.2\n"
    )
    rising = "K B T 100 150 0.1 0\n[JUNCTIONS]\nC 5 3\n[PIPES]\nL C T 500 150 0.1 0\n[RESERVOIRS]\nlow 12\n"
    agree(tmp_path, frame(f"Q A B 10 80 0.1 0\n{rising}[PUMPS]\nU low C {pump}\n{curves}"))


@pytest.mark.filterwarnings("ignore:WARNING")
@pytest.mark.parametrize(
    ("demand", "more", "drawn"),
    [
        # Without a pattern of its own a demand follows that of the option, or pattern 1, or none.
        ("20", "", 20.0),
        ("20", "[PATTERNS]\n1 0.5 2\n", 10.0),
        ("20", "[PATTERNS]\n1 0.5 2\nday 0.7\n[OPTIONS]\nPATTERN day\n", 14.0),
        ("20 day", "[PATTERNS]\n1 0.5 2\nday 0.7\n", 14.0),
        ("20 day", "[PATTERNS]\nday 0.7 0.8 0.9\nday 1.1\n[TIMES]\nPATTERN TIMESTEP 2:00\nPATTERN START 5:30\n", 18.0),
        ("20 day", "[PATTERNS]\nday 0.7 0.8 0.9\n[TIMES]\nPATTERN TIMESTEP 30 MIN\nPATTERN START 2\n", 16.0),
        ("20 day", "[PATTERNS]\nday 0.7 0.8 0.9\n[TIMES]\nPATTERN START 0:59:30\n", 14.0),
        ("20 day", "[PATTERNS]\nday 0.7 0.8 0.9\n[TIMES]\nPATTERN START 1\n", 16.0),
        (
            "20 day",
            "[PATTERNS]\nday 1 1 1 1 1 1 1 1 1 1 1 1\nday 1.3 9\n[TIMES]\nPATTERN TIMESTEP 0:20\nPATTERN START 4:00\n",
            26.0,
        ),
        # Rows of [DEMANDS] take the place of the junction's own.
        ("20", "[DEMANDS]\nB 6\nB 8 day\n[PATTERNS]\nday 0.5\n", 10.0),
        ("20", "[DEMANDS]\nA 6\n", 20.0),
        ("20", "[OPTIONS]\nDEMAND MULTIPLIER 0.6\n", 12.0),
    ],
)
def test_demands_are_those_of_hour_0(tmp_path, demand, more, drawn):
    _, flows = agree(tmp_path, frame(f"Q A B 10 150 0.1 0\n{more}", demand=demand))
    assert flows["Q"] == pytest.approx(1e-3 * drawn, rel=1e-4)


def test_a_reservoir_s_head_follows_its_pattern_and_a_tank_s_its_level(tmp_path):
    links = "Q A B 10 80 0.1 4\nS B T 10 60 0.1 3\n[PATTERNS]\nlow 0.9 1.1\n"
    heads, _ = agree(tmp_path, frame(links).replace("R 60", "R 60 low"))
    assert heads["R"] == pytest.approx(54.0)
    assert heads["T"] == pytest.approx(34.0)


@pytest.mark.filterwarnings("ignore:WARNING")
@pytest.mark.parametrize(
    ("when", "closed"),
    [
        ("AT TIME 0", True),
        ("AT TIME 0:00", True),
        ("AT TIME 0:30", False),
        ("AT TIME 5", False),
        ("AT CLOCKTIME 12 AM", True),
        ("AT CLOCKTIME 12 PM", False),
        ("AT CLOCKTIME 6 AM", False),
        ("AT CLOCKTIME 6 PM\n[TIMES]\nSTART CLOCKTIME 6 PM", True),
        ("AT CLOCKTIME 18:00\n[TIMES]\nSTART CLOCKTIME 6 PM", True),
        ("AT CLOCKTIME 6 AM\n[TIMES]\nSTART CLOCKTIME 6 PM", False),
        ("IF NODE T ABOVE 4", True),
        ("IF NODE T BELOW 4", True),
        ("IF NODE T ABOVE 3.9", True),
        ("IF NODE T ABOVE 4.1", False),
        ("IF NODE T BELOW 3.9", False),
        ("IF NODE T BELOW 4.1", True),
    ],
)
def test_simple_controls_act_where_they_hold_at_hour_0(tmp_path, when, closed):
    _, flows = agree(tmp_path, frame(f"{TWO_WAYS}[CONTROLS]\nLINK K CLOSED {when}\n"))
    assert (abs(flows["K"]) < 1e-6) is closed


@pytest.mark.parametrize(
    ("links", "named"),
    [
        ("Q A B 10 80 0.1 4\n[CONTROLS]\nLINK Q CLOSED\n", "a control"),
        ("Q A B 10 80 0.1 4\n[CONTROLS]\nNODE Q CLOSED IF NODE T ABOVE 4\n", "a control"),
        ("Q A B 10 80 0.1 4\n[CONTROLS]\nLINK Q CLOSED IF NODE A ABOVE 4\n", "the pressure of a junction"),
        ("Q A B 10 80 0.1 4\n[CONTROLS]\nLINK Q CLOSED AT TIME noon\n", "a time"),
        ("[PUMPS]\nU A B HEAD none\n", "a curve"),
        ("Q A B 10\n", "at least 5 columns"),
        ("Q A B 10 80 0.1 4\n[DEMANDS]\nB 5 none\n", "a pattern"),
        ("Q A B 10 80 0.1 4\n[OPTIONS]\nPRESSURE BAR\n", "a pressure unit"),
        ("Q A B 10 80 0.1 4\n[NOTES]\nnothing\n", "a section"),
    ],
)
def test_what_a_file_says_wrongly_is_refused_by_name(links, named):
    with pytest.raises(InputError, match=named):
        _read(frame(links))


def _read(text):
    file = InpFile(text, "net.inp")
    return file.links, file.draws


def test_an_open_valve_loses_velocity_heads_and_creeps_below_a_reynolds_number_of_100():
    """dp = K rho v^2/2; by the linear term as much again at Re 100, so that its slope at rest is above zero."""
    liquid, bore, loss = Liquid(998.0, 1e-6), 0.1, 8.0
    linear, quadratic = OpenValve(bore, loss).coefficients(liquid)[:2]
    velocity = 1.5
    flow = velocity * np.pi / 4.0 * bore**2
    assert quadratic * flow**2 == pytest.approx(loss * 998.0 * velocity**2 / 2.0)
    slow = 100.0 * 1e-6 / bore * np.pi / 4.0 * bore**2
    assert linear * slow == pytest.approx(quadratic * slow**2)
    valve = OneWay(bore).coefficients(liquid)
    assert 0.0 < valve.quadratic * flow**2 < 0.01 * 998.0 * velocity**2 / 2.0


def test_a_pressure_valve_of_a_file_hardly_droops():
    """It holds its setting within a millimetre of head at 1 m/s, as the format's own hold it exactly."""
    net = Network()
    net.add_reservoir("high", pressure=6e5)
    net.add_node("low")
    net.connect("high", "low", Reducing(0.1, 30.0, 0.0), name="valve")
    state = net.solve(Liquid(998.0, 1e-6), {"low": np.pi / 4.0 * 0.1**2})
    assert state.gauge_pressure["low"] == pytest.approx(998.0 * 9.80665 * 30.0, abs=9.8)


def test_a_pipe_s_status_is_its_last_word_whatever_its_nodes_are_called():
    text = frame("[JUNCTIONS]\n7 5 0\n[PIPES]\nQ 7 B 10 80 0.1 4 Closed\nK 7 B 10 80 0.1 4\nL B 7 10 80 0.1 4 Open\n")
    links = InpFile(text, "net.inp").links
    assert links["Q"].parts == (Closed(),)
    assert links["K"].parts == links["L"].parts != links["Q"].parts


def test_a_curve_of_one_point_runs_out_at_twice_its_flow():
    """EPANET 2.2 manual: the shut-off head is 4/3 of the point's, and the flow without head twice its flow."""
    flow, head = _head_curve(np.array([0.03]), np.array([24.0]))
    assert (flow[0], flow[-1]) == pytest.approx((0.0, 0.06))
    assert (head[0], head[-1]) == pytest.approx((32.0, 0.0), abs=1e-9)
    assert np.interp(0.03, flow, head) == pytest.approx(24.0, rel=1e-3)
