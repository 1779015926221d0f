"""Networks read from input files of EPANET's format, against EPANET's own engine on the same file."""

from __future__ import annotations

import os

import pint
import pytest

from fuelsim.errors import InputError
from fuelsim.network.network import Network

toolkit = pytest.importorskip("epanet.toolkit")
JUDGE = pint.UnitRegistry()

METRIC = """
[TITLE]
A district in litres per second
[JUNCTIONS]
;id  elevation  demand  pattern
J1   10   5     day
J2   12   0
J3   8    7.5   day ; a comment
J4   5    3
J5   4    2
J6   6    1.5
[RESERVOIRS]
R1   20
[TANKS]
T1   45  3.5  0  6  12  0
[PIPES]
P1   J1   J2   800   300  0.1   0    Open
P2   J2   J3   500   200  0.1   2.5  Open
P3   J3   J4   400   150  0.05  0    Open
P4   J2   T1   300   250  0.1   0    CV
P5   J4   J5   200   100  0.02  0
P6   J1   J3   900   150  0.1   0    Closed
P7   J2   J6   350   120  0.1   0
[PUMPS]
PU1  R1   J1   HEAD  C1  SPEED 1.05
[VALVES]
V1   J3   J5   100  PRV  25  0
V2   J6   J5   80   TCV  12  0
[CURVES]
C1   30   40
[PATTERNS]
day  1.4  0.8
day  0.6
[OPTIONS]
UNITS LPS
HEADLOSS D-W
DEMAND MULTIPLIER 0.9
ACCURACY 0.000001
TRIALS 200
[TIMES]
DURATION 0
[REPORT]
STATUS NO
MESSAGES NO
[END]
"""

AMERICAN = """
[JUNCTIONS]
1  100
2  90   100
3  80   150
4  70   60
5  60   120
6  95   40
7  90
8  85   150
[RESERVOIRS]
A  120
B  150
[PIPES]
a  1  2  1000  12  0.5  0
b  2  3  1200  8   0.5  0
c  3  4  900   8   0.5  1.5
d  2  6  500   8   0.5  0
e  4  5  700   6   0.3  0
f  7  B  50    8   0.5  0
[PUMPS]
main    A  1  HEAD  three
booster 6  4  HEAD  many
[VALVES]
fcv  1  6  6  FCV  90  0
psv  2  7  8  PSV  70  0
gpv  2  8  8  GPV  loss  0
[CURVES]
three  0     220
three  400   180
three  800   90
many   0     60
many   150   52
many   300   40
many   450   15
loss   100   2
loss   200   8
loss   400   32
[OPTIONS]
UNITS GPM
HEADLOSS D-W
ACCURACY 0.000001
TRIALS 200
[TIMES]
DURATION 0
[REPORT]
STATUS NO
MESSAGES NO
[END]
"""


def by_epanet(path, length, flow_unit):
    """Heads in m and flows in m3/s by EPANET's engine."""
    project = toolkit.createproject()
    toolkit.open(project, str(path), str(path.with_suffix(".rpt")), os.devnull)
    toolkit.openH(project)
    toolkit.initH(project, toolkit.INITFLOW)
    toolkit.runH(project)
    nodes = range(1, toolkit.getcount(project, toolkit.NODECOUNT) + 1)
    links = range(1, toolkit.getcount(project, toolkit.LINKCOUNT) + 1)
    heads = {toolkit.getnodeid(project, i): toolkit.getnodevalue(project, i, toolkit.HEAD) * length for i in nodes}
    flows = {toolkit.getlinkid(project, i): toolkit.getlinkvalue(project, i, toolkit.FLOW) * flow_unit for i in links}
    toolkit.close(project)
    return heads, flows


@pytest.mark.parametrize(
    ("text", "length", "flow_unit"), [(METRIC, 1.0, 1e-3), (AMERICAN, 0.3048, 3.785411784e-3 / 60.0)]
)
def test_a_file_solves_as_epanet_solves_it(tmp_path, text, length, flow_unit):
    """Heads within 0.5 % of their spread, flows within 1 % of the largest: EPANET uses Swamee-Jain for friction."""
    path = tmp_path / "net.inp"
    path.write_text(text, encoding="utf-8")
    heads, flows = by_epanet(path, length, flow_unit)
    net = Network.from_inp(path)
    state = net.solve()
    assert state.outcome.converged
    density = net.liquid.density
    spread = max(heads.values()) - min(heads.values())
    elevations = {name: node.height for name, node in (*net.nodes.items(), *net.reservoirs.items())}
    for name, head in heads.items():
        ours = elevations[name] + state.gauge_pressure[name] / (density * 9.80665)
        assert ours == pytest.approx(head, abs=5e-3 * spread), name
    largest = max(abs(flow) for flow in flows.values())
    for name, flow in flows.items():
        assert state.flow[name] == pytest.approx(flow, abs=1e-2 * largest), name


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (("HEADLOSS D-W", "HEADLOSS H-W"), "Hazen-Williams"),
        (("HEADLOSS D-W", "HEADLOSS C-M"), "Chezy-Manning"),
        (("HEADLOSS D-W\n", ""), "Hazen-Williams"),
        (("[CURVES]", "[EMITTERS]\nJ1 0.5\n[CURVES]"), "emitters"),
        (("[CURVES]", "[RULES]\nRULE 1\n[CURVES]"), "rule-based controls"),
        (("HEAD  C1  SPEED 1.05", "POWER 5"), "constant power"),
        (("PRV  25", "PBV  25"), "PBV"),
        (("UNITS LPS", "UNITS HOGSHEADS"), "HOGSHEADS"),
        (("800   300  0.1", "800   wide  0.1"), "wide"),
    ],
)
def test_what_cannot_be_said_is_refused_by_name(tmp_path, change, named):
    path = tmp_path / "net.inp"
    assert change[0] in METRIC
    path.write_text(METRIC.replace(*change), encoding="utf-8")
    with pytest.raises(InputError, match=named) as caught:
        Network.from_inp(path)
    assert "net.inp" in str(caught.value)


@pytest.mark.parametrize(
    ("level", "closed"), [("ABOVE 3", True), ("ABOVE 9", False), ("BELOW 9", True), ("BELOW 3", False)]
)
def test_a_control_by_the_level_of_a_tank_holds_at_hour_0(level, closed, tmp_path):
    path = tmp_path / "net.inp"
    controls = f"[CONTROLS]\nLINK PU1 CLOSED IF NODE T1 {level}\nLINK P6 OPEN AT TIME 5\n[CURVES]"
    path.write_text(METRIC.replace("[CURVES]", controls).replace("CV\n", "Open\n"), encoding="utf-8")
    _, flows = by_epanet(path, 1.0, 1e-3)
    state = Network.from_inp(path).solve()
    assert (abs(flows["PU1"]) < 1e-9) is closed
    assert state.flow["PU1"] == pytest.approx(flows["PU1"], rel=1e-2, abs=1e-6)
    assert state.flow["P4"] == pytest.approx(flows["P4"], rel=1e-2)


def test_no_such_file_is_said():
    with pytest.raises(InputError, match="no such file"):
        Network.from_inp("nowhere.inp")


@pytest.mark.parametrize(
    ("word", "unit"),
    [
        ("CFS", "ft^3/s"),
        ("GPM", "gallon/min"),
        ("MGD", "1e6 gallon/day"),
        ("IMGD", "1e6 imperial_gallon/day"),
        ("AFD", "43560 ft^3/day"),
        ("LPS", "L/s"),
        ("LPM", "L/min"),
        ("MLD", "1e6 L/day"),
        ("CMH", "m^3/hour"),
        ("CMD", "m^3/day"),
        ("CMS", "m^3/s"),
    ],
)
def test_flow_units_are_what_pint_makes_of_them(tmp_path, word, unit):
    """Judge: pint; the words are those of the EPANET 2.2 manual, whose US units go with feet, inches and psi."""
    path = tmp_path / "one.inp"
    pipe = "[JUNCTIONS]\nJ 10 2\n[RESERVOIRS]\nR 50\n[PIPES]\nP R J 100 8 0.1 0 Open\n"
    path.write_text(f"{pipe}[OPTIONS]\nUNITS {word}\nHEADLOSS D-W\n")
    net = Network.from_inp(path)
    assert net.draws["J"] == pytest.approx(2.0 * JUDGE.Quantity(unit).to("m^3/s").magnitude, rel=1e-6)
    us = word in ("CFS", "GPM", "MGD", "IMGD", "AFD")
    pipe = net.links["P"].part
    assert pipe.length == pytest.approx(100.0 * JUDGE.Quantity("foot" if us else "metre").to("m").magnitude, rel=1e-12)
    assert pipe.bore == pytest.approx(8.0 * JUDGE.Quantity("inch" if us else "mm").to("m").magnitude, rel=1e-12)


@pytest.mark.parametrize(("unit", "square"), [("GPM", 0.3048**2), ("LPS", 1.0)])
def test_viscosities_are_multiples_of_water_s_or_in_the_file_s_own_units(tmp_path, unit, square):
    """EPANET 2.2 manual: VISCOSITY is relative to water at 20 degC, 1.1e-5 ft2/s (1 centistoke); a value of at most
    0.001 is a kinematic viscosity in ft2/s or m2/s."""
    for value, viscosity in (("1.5", 1.5 * 1.1e-5 * 0.3048**2), ("2e-5", 2e-5 * square)):
        path = tmp_path / "liquid.inp"
        text = "[JUNCTIONS]\nJ 10 2\n[RESERVOIRS]\nR 50\n[PIPES]\nP R J 100 8 0.1 0 Open\n[OPTIONS]\nHEADLOSS D-W\n"
        path.write_text(f"{text}UNITS {unit}\nVISCOSITY {value}\nSPECIFIC GRAVITY 0.75\n")
        liquid = Network.from_inp(path).liquid
        assert liquid.kinematic_viscosity == pytest.approx(viscosity, rel=1e-9)
        assert liquid.density == pytest.approx(0.75 * 998.0, rel=1e-9)


@pytest.mark.parametrize("start", ["10:00", "10", "10 HOURS", "600 MIN", "36000 SEC", "0.41667 DAYS"])
def test_a_pattern_starts_at_the_hour_that_is_written(tmp_path, start):
    """EPANET 2.2 manual: times are hours:minutes or a number with a unit, hours without one; ten hours into a pattern
    of one step an hour its eleventh multiplier holds."""
    path = tmp_path / "pattern.inp"
    multipliers = " ".join(str(number) for number in range(1, 25))
    text = "[JUNCTIONS]\nJ 10 2 day\n[RESERVOIRS]\nR 50\n[PIPES]\nP R J 100 8 0.1 0 Open\n[OPTIONS]\nHEADLOSS D-W\n"
    path.write_text(
        f"{text}UNITS LPS\n[PATTERNS]\nday {multipliers}\n[TIMES]\nPATTERN TIMESTEP 1:00\nPATTERN START {start}\n"
    )
    assert Network.from_inp(path).draws["J"] == pytest.approx(2e-3 * 11.0)


@pytest.mark.parametrize(("coefficient", "diameter"), [(10.0, 80.0), (40.0, 100.0)])
def test_a_throttle_valve_of_a_file_loses_velocity_heads(tmp_path, coefficient, diameter):
    """h = K v^2/(2 g) across the valve, by hand; the lines beside it lose next to nothing."""
    path = tmp_path / "throttle.inp"
    path.write_text(
        "[JUNCTIONS]\nA 0 0\nB 0 0\n[RESERVOIRS]\nR 50\nS 40\n"
        "[PIPES]\nP R A 1 1000 0.1 0 Open\nQ B S 1 1000 0.1 0 Open\n"
        f"[VALVES]\nV A B {diameter} TCV {coefficient} 0\n[OPTIONS]\nHEADLOSS D-W\nUNITS LPS\n"
    )
    velocity = (2.0 * 9.80665 * 10.0 / coefficient) ** 0.5
    flow = Network.from_inp(path).solve().flow["V"]
    assert flow == pytest.approx(velocity * 3.141592653589793 / 4.0 * (diameter * 1e-3) ** 2, rel=2e-3)
