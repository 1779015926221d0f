"""Which layout is preferred: only one that stays so over the bands; otherwise what to measure."""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.band import Band
from fuelsim.show.report import report_html
from fuelsim.studies import decision as decisions
from fuelsim.studies.bands import Banded, BandInput
from fuelsim.studies.decision import DecisionState

FINCH = fs.Car.named("finch")
HEAT = BandInput(
    "heat", "temperature difference", {"surroundings.bay_rise": Band(30.0, 40.0, 50.0)}, "high", "", "heat"
)
FUEL = BandInput("fuel", "absolute pressure", {"fuel.vapour_pressure": Band(53e3, 60e3, 67e3)}, "high", "", "fuel")


def by_hand(middle, heat, fuel, rail=30.0):
    """Band of one layout whose hottest tank changes by heat and fuel in straight lines, K from middle to high."""
    steps = np.array([[heat, 0.0], [fuel, 0.0]])
    own = np.array([middle, rail])
    both = steps.sum(axis=0)
    return Banded((HEAT, FUEL), "temperature", own, own - steps, own + steps, own + both, own - both)


def decided(monkeypatch, **limits):
    """Return the decision between layouts whose figures are given, with a car of just as many."""
    variants = {name: {"feed.bore": "8 mm"} for name in limits}
    result = fs.compare(FINCH, ["return"], variants=variants, rpm=[6000], tank_temperature=["20 degC"])
    answers = iter(limits.values())
    monkeypatch.setattr(decisions, "_limits", lambda *_: next(answers))
    return result.decision


def test_a_lead_that_stays_over_the_bands_is_a_preference_and_its_reversal_a_straight_line(monkeypatch):
    """A lead of 6 K that heat takes 2 K of and fuel 4 K: none left at 1.5 bands of the fuel, 60 + 1.5 x 7 kPa."""
    decision = decided(monkeypatch, cool=by_hand(330.0, -1.0, -5.0), warm=by_hand(324.0, 1.0, -1.0))
    assert decision.preferred == "cool"
    assert decision.rival == "warm"
    assert decision.lead == pytest.approx([0.0, 6.0, 12.0])
    assert decision.reversal.item is FUEL
    assert decision.reversal.bands == pytest.approx(1.5)
    assert decision.reversal.value == pytest.approx(70.5e3)


def test_a_lead_that_turns_at_a_corner_is_not_decided_and_names_what_to_measure(monkeypatch):
    decision = decided(monkeypatch, cool=by_hand(330.0, -1.0, -5.0), warm=by_hand(327.0, -1.0, 1.0))
    assert decision.preferred is None
    assert decision.state is DecisionState.UNDECIDED
    assert decision.measure is FUEL
    assert "Not decided by what is known. Measure first: the fuel" in str(decision)


def test_what_moves_all_layouts_alike_decides_nothing(monkeypatch):
    """Bands of 20 K, the same for both, leave a lead of 2 K as it is."""
    decision = decided(monkeypatch, one=by_hand(332.0, -10.0, -10.0), other=by_hand(330.0, -10.0, -10.0))
    assert decision.preferred == "one"
    assert decision.lead == pytest.approx([2.0, 2.0, 2.0])
    assert decision.reversal is None


def test_the_rail_decides_where_the_first_figure_is_equal(monkeypatch):
    limits = {"near": by_hand(330.0, -1.0, -1.0, rail=14.0), "far": by_hand(330.0, -1.0, -1.0, rail=19.0)}
    decision = decided(monkeypatch, **limits)
    assert (decision.preferred, decision.figure) == ("far", 1)


def test_two_cars_that_are_the_same_are_equal_and_none_is_preferred():
    same = {"one": {"feed.bore": "8 mm"}, "two": {"feed.bore": "8 mm"}}
    result = fs.compare(FINCH, ["return"], variants=same, rpm=[6000], tank_temperature=["20 degC"])
    assert result.decision.state is DecisionState.EQUAL
    assert result.decision.preferred is None
    assert result.decision.lead == pytest.approx(0.0, abs=1e-6)


def test_a_tank_that_gives_off_more_heat_is_preferred_at_every_corner():
    """The settled tank is above the air by heat over conductance: half of it at twice the conductance."""
    variants = {name: {"tank.heat_conductance": value} for name, value in (("open", "24 W/K"), ("boxed", "12 W/K"))}
    result = fs.compare(FINCH, ["return"], variants=variants, rpm=[4000], tank_temperature=["20 degC"])
    assert result.decision.preferred == "open"
    heat = float(result.at_car["boxed"].tank_heat_flow[0])
    assert result.decision.lead[1] == pytest.approx(heat / 12.0 - heat / 24.0, rel=0.1)


def test_a_layout_whose_rail_comes_near_boiling_is_not_preferred(monkeypatch):
    limits = {"near": by_hand(335.0, -1.0, -1.0, rail=3.0), "far": by_hand(330.0, -1.0, -1.0, rail=40.0)}
    decision = decided(monkeypatch, **limits)
    assert decision.preferred is None
    assert decision.figure == 1


def test_the_decision_stands_first_in_report_and_names_parts_that_differ():
    result = fs.compare(FINCH, rpm=[1000, 6000], tank_temperature=["20 degC", "45 degC"])
    assert set(result.decision.parts["return"]) >= {"rail_regulator", "return_line"}
    # Feed and return, 3 m each, against the feed alone; two ends each.
    routing = result.decision.routing
    assert routing["return"] == ({"underfloor": 6.0}, 4)
    assert routing["returnless_tank"] == ({"underfloor": 3.0}, 2)
    page = report_html(result)
    assert page.index("<h2>Decision</h2>") < page.index("<h2>Cautions</h2>") < page.index("What limits each layout")
