"""Traps that gave wrong answers in silence are findings: sizes taken for bores, fuses, lift pumps, cold tanks.

Sizes are those of the standards that the catalogue cites; the loss ratio is that of the line law itself.
"""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.heat_parts import SurgePot
from fuelsim.finding import Severity
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.wire import Wire


def found(values, subject, word, layout="return", car="finch"):
    listed = fs.findings(fs.Car.named(car).with_values(values).system(layout))
    return [finding for finding in listed if finding.subject == subject and word in finding.statement]


@pytest.mark.parametrize(
    ("bore", "material", "inside"),
    [
        ("3/8 in", "steel", "8.1 mm or 7.75 mm"),
        ("5/16 in", "rusty_steel", "6.52 mm"),
        ("0.5 in", "painted_steel", "10.9 mm"),
        ("3/8 in", "ptfe", "7.9 mm"),
    ],
)
def test_a_bore_that_is_the_size_by_which_a_tube_or_hose_is_called_asks_which_is_meant(bore, material, inside):
    (finding,) = found({"feed.bore": bore, "feed.material": material}, "feed", "its bore of")
    assert finding.severity is Severity.WARNING
    assert inside in finding.statement
    assert "say which is meant" in finding.advice


@pytest.mark.parametrize(
    "values",
    [
        {"feed.bore": "6 mm"},  # the true bore of steel tube of 8 mm
        {"feed.bore": "8.1 mm"},
        {"feed.bore": "3/8 in", "feed.material": "rubber"},  # such hose is called by its bore
        {"feed": "steel_tube 3/8 in"},
        {"feed": "push_on -6"},
        {"feed.bore": "9 mm"},
    ],
)
def test_a_true_bore_is_not_doubted(values):
    assert found(values, "feed", "its bore of") == []


def test_every_listed_size_is_taken_for_itself_and_not_doubted():
    for name in catalogue_names("lines"):
        assert found({"feed": name}, "feed", "its bore of", "returnless_tank") == [], name


def test_the_loss_told_is_that_of_the_line_law():
    (finding,) = found({"feed.bore": "3/8 in"}, "feed", "its bore of")
    told = float(finding.statement.split("up to ")[1].split()[0])
    petrol = fs.Fuel.named("summer_e10").liquid(293.15)
    losses = []
    for bore in ("7.75 mm", "3/8 in"):
        net = fs.Network()
        net.add_reservoir("tank", pressure="300 kPa")
        net.add_node("rail")
        net.connect("tank", "rail", fs.Line(length="3 m", bore=bore), name="feed")
        losses.append(3e5 - float(net.solve(petrol, draw={"rail": "150 L/h"}).pressure["rail"]))
    assert told == pytest.approx(losses[0] / losses[1], rel=0.06)


def test_a_fuse_beyond_what_its_wire_carries_is_found_and_the_pairs_of_the_catalogue_are_not():
    (warned,) = found({"wire.size": "16 AWG", "wire.fuse_rating": "20 A"}, "wire", "protects wire")
    (failed,) = found({"wire.size": "18 AWG", "wire.fuse_rating": "30 A"}, "wire", "protects wire")
    assert (warned.severity, failed.severity) == (Severity.WARNING, Severity.FAILURE)
    assert "burns before the fuse" in warned.caution
    for name in catalogue_names("wires"):
        wire = Wire.named(name)
        values = {"wire.size": wire.size, "wire.fuse_rating": float(np.max(wire.fuse_rating))}
        assert found(values, "wire", "protects wire") == [], name


def test_a_lift_pump_below_demand_is_found_with_the_time_a_pot_lasts():
    """1.5 L at the difference of what is burnt and what is lifted."""
    values = {"surge_pot": SurgePot(volume="1.5 L", lift_flow="60 L/h")}
    (finding,) = found(values, "surge_pot", "lift pump brings 60 L/h", car="heron")
    burnt = float(finding.statement.split("burns up to ")[1].split()[0])
    lasts = float(finding.statement.split("lasts ")[1].split()[0])
    assert finding.severity is Severity.FAILURE
    assert lasts == pytest.approx(1.5 / (burnt - 60.0) * 3600.0, rel=0.02)
    assert found({"surge_pot": SurgePot(lift_flow="150 L/h")}, "surge_pot", "lift pump", car="heron") == []


def test_a_tank_without_a_temperature_is_told_and_a_warning_where_vapour_is_near():
    cold, warm = (
        found(
            {"surroundings.tank_temperature": None, "surroundings.air_temperature": air},
            "tank",
            "no temperature",
            car="heron",
        )
        for air in ("10 degC", "38 degC")
    )
    assert [each.severity for each in (*cold, *warm)] == [Severity.NOTE, Severity.WARNING]
    assert "boils at the pump's inlet" in warm[0].statement
    assert found({}, "tank", "no temperature", car="heron") == []


@pytest.mark.parametrize(
    ("name", "inside"),
    [
        ("steel_tube 3/8 in", "8.1026 mm"),
        ("braided_ptfe AN-6", "7.9 mm"),
        ("push_on_6", "9.5 mm"),
        ("nylon_tube 8 mm", "6 mm"),
    ],
)
def test_a_bore_may_be_given_by_the_name_of_a_tube_or_hose_wherever_one_is_asked(name, inside):
    """3/8 in less twice the wall of 0.028 in; other figures stand in the catalogue as bores or as size and wall."""
    expected = fs.si(inside, "m")
    hose = {"feed.material": "rubber"} if "push_on" in name else {}
    car = fs.Car.named("finch").with_values({"feed.bore": name, "rail.bore": name} | hose)
    assert (float(car.feed.bore), float(car.rail.bore)) == pytest.approx((expected, expected))
    assert float(fs.Line(length="3 m", bore=name).bore) == pytest.approx(expected)
    assert not [each for each in fs.findings(car.system("return")) if "say which is meant" in each.advice]


def test_a_size_of_several_families_and_an_unknown_one_are_refused_as_a_bore():
    with pytest.raises(fs.InputError, match=r"another bore in each family.*braided_ptfe_6"):
        fs.Line(length="3 m", bore="AN-6")
    with pytest.raises(fs.InputError, match="bore"):
        fs.Line(length="3 m", bore="wide")
