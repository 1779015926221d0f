"""Each reason why a point has no result, told from given data: the part it names and the figures it states."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from plumbing import ATMOSPHERE, L_H, PETROL, pump_and_rail

from fuelsim.network.network import Network
from fuelsim.network.solver import failure_reasons
from fuelsim.network.solver.failure_reasons import Labels
from fuelsim.outcome import OutcomeCode
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line

LABELS = Labels(["a", "b", "c"], ["first", "second", "third"], 740.0)


def cut_off(draw, *, unfed=(), undrained=(), one_way=(True, False, True)):
    """Links: a -> b, b - c and c -> reservoir."""
    laws = tuple(SimpleNamespace(one_way=value) for value in one_way)
    topology = SimpleNamespace(up=(0, 1, 2), down=(1, 2, 3), laws=laws)
    plan = SimpleNamespace(topology=topology, unfed=np.array(unfed, int), undrained=np.array(undrained, int))
    batch = SimpleNamespace(plan=plan, node_draw=L_H * np.array(draw))
    return failure_reasons._cut_off(batch, LABELS, 1)


def test_a_draw_that_cannot_be_fed_names_its_node_its_flow_and_the_valve_beside_it():
    found = cut_off([[9.0, 0.0], [9.0, 30.0], [9.0, 40.0]], unfed=[0, 1, 2])
    assert (found.code, found.part) == (OutcomeCode.CUT_OFF, "first")
    assert "the 30 L/h drawn from 'b' cannot reach it" in found.reason
    assert cut_off([[9.0, 0.0], [9.0, 0.0], [9.0, 40.0]], unfed=[0, 1, 2]).part == "third"
    # No valve at the node itself: the node is named. A node that all points share the draw of is read too.
    assert cut_off([[9.0], [7.0], [9.0]], unfed=[1], one_way=(False, False, True)).part == "b"


def test_what_is_fed_and_cannot_leave_names_its_node_its_flow_and_the_valve_beside_it():
    found = cut_off([[-9.0, 0.0], [-9.0, 5.0], [-9.0, -40.0]], undrained=[0, 1, 2])
    assert found.part == "third"
    assert "the 40 L/h fed to 'c' cannot leave it" in found.reason


def overdrawn(*, converged=True, fraction=0.25, bracketed=True, pump=-1, pressure=-1.5e5):
    batch = SimpleNamespace(node_draw=L_H * np.array([[0.0, 80.0], [0.0, -30.0], [0.0, 20.0]]), datum=np.array([1e5]))
    limits = SimpleNamespace(
        fraction=np.array([np.nan, fraction]),
        link=np.array([0, 2]),
        node=np.array([0, 1]),
        bracketed=np.array([False, bracketed]),
    )
    solved = SimpleNamespace(
        solution=SimpleNamespace(converged=np.array([True, converged])),
        pressure=np.array([[0.0, 0.0], [0.0, 0.0], [0.0, pressure]]),
    )
    outside = SimpleNamespace(node=np.array([0, 2]), pump=np.array([-1, pump]))
    result = SimpleNamespace(limits=limits, solved=solved)
    found = failure_reasons._overdrawn(batch, result, LABELS, outside, 1)
    assert (found.code, found.part) == (OutcomeCode.OUTSIDE_RATINGS, "third")
    return found.reason


def test_an_overdrawn_point_states_its_draw_what_it_needs_and_what_works():
    """80 and 20 L/h are drawn, what is fed elsewhere is no draw; a quarter works; -150 kPa over 100 kPa."""
    reason = overdrawn()
    assert "the draw of 100 L/h is more than 'third' can pass" in reason
    assert "'c' would have to be at -50 kPa absolute, below a vacuum" in reason
    assert "the largest that works is 25 L/h (0.25 of it)" in reason
    assert "can push" in overdrawn(pump=0)
    reason = overdrawn(pressure=-5e4)
    assert "'c' would have to be at 50 kPa absolute;" in reason
    assert "no suction at 'b' would be enough" in overdrawn(converged=False)
    assert "the largest found to work, more may, is 25 L/h" in overdrawn(bracketed=False)
    assert "no draw at all works" in overdrawn(fraction=0.0)
    assert "no draw was found to work" in overdrawn(fraction=0.0, bracketed=False)


def test_a_point_below_a_vacuum_whatever_it_draws_states_the_pressure():
    batch = SimpleNamespace(datum=np.array([1e5]))
    result = SimpleNamespace(solved=SimpleNamespace(pressure=np.array([[0.0, 0.0], [0.0, -1.2e5]])))
    outside = SimpleNamespace(node=np.array([0, 1]))
    found = failure_reasons._outside_ratings(batch, result, LABELS, outside, 1)
    assert (found.code, found.part) == (OutcomeCode.OUTSIDE_RATINGS, "b")
    assert "'b' would be at -20 kPa absolute" in found.reason


@pytest.mark.parametrize(
    ("state", "told"),
    [
        # What is known of the point, the strongest first: cut off, bad input, overdrawn, outside, sunk, else nothing.
        ({"cut_off": True, "bad": True, "found": True, "sunk": True}, "cut off"),
        ({"bad": True, "found": True, "sunk": True}, "bad"),
        ({"bad": True, "found": True, "sunk": True, "converged": True}, "overdrawn"),
        ({"found": True, "sunk": True}, "overdrawn"),
        ({"converged": True, "sunk": True}, "outside"),
        ({"sunk": True}, "sunk"),
        ({}, "not converged"),
    ],
)
def test_of_several_reasons_the_strongest_is_told(monkeypatch, state, told):
    def one(name):
        return np.array([False, state.get(name, False)])

    result = SimpleNamespace(
        cut_off=one("cut_off"),
        sunk=one("sunk"),
        limits=SimpleNamespace(found=one("found")),
        solved=SimpleNamespace(solution=SimpleNamespace(converged=one("converged"))),
    )
    names = {
        "_cut_off": "cut off", "_overdrawn": "overdrawn", "_outside_ratings": "outside", "_sunk": "sunk",
        "_not_converged": "not converged",
    }  # fmt: skip
    for function, name in names.items():
        monkeypatch.setattr(failure_reasons, function, lambda *_, name=name: name)
    monkeypatch.setattr(failure_reasons, "_bad_input", lambda *_: "bad" if state.get("bad") else None)
    assert failure_reasons._failure(None, result, LABELS, None, "first", 1) == told


def test_a_coefficient_that_is_no_number_names_its_part_at_its_points_in_chains_and_dead_ends():
    net = pump_and_rail()
    net.add_node("end")
    net.connect("rail", "end", Line(length=1.0, bore=0.006), name="dead end")
    for name in ("feed", "dead end"):
        for length, spoilt in ((np.array([1.0, 1.0, np.nan]), [2]), (np.nan, [0, 1, 2])):
            broken = Line(length=1.0, bore=0.008)
            object.__setattr__(broken, "length", length)
            outcome = net.with_parts({name: broken}).solve(PETROL, {"rail": np.full(3, 20.0) * L_H}).outcome
            assert np.flatnonzero(outcome.code == OutcomeCode.BAD_INPUT).tolist() == spoilt
            assert set(outcome.worst_part[spoilt]) == {name}


def test_a_number_that_lacks_in_a_table_is_found_at_its_point_alone(monkeypatch):
    """One link's table of three rows at four points, and another's that all points share."""
    table = np.ones((3, 1, 4))
    table[2, 0, 3] = np.nan
    shared = np.ones((3, 2, 1))

    def group(links, values):
        law = SimpleNamespace(coefficients=SimpleNamespace(_fields=("pressure_rise",)))
        return SimpleNamespace(law=law, links=links), SimpleNamespace(coefficients=(values,))

    monkeypatch.setattr(failure_reasons, "groups_of", lambda batch: [group((2, 0), shared), group((1,), table)])
    assert failure_reasons._bad_input(None, LABELS, 2) is None
    found = failure_reasons._bad_input(None, LABELS, 3)
    assert (found.code, found.part) == (OutcomeCode.BAD_INPUT, "second")
    assert "the pressure rise of 'second' is not a number" in found.reason
    shared[0, 1] = np.nan
    assert failure_reasons._bad_input(None, LABELS, 2).part == "first"


def test_points_that_solve_have_no_reason_and_the_worst_link_of_each_is_one_of_theirs():
    net = pump_and_rail()
    outcome = net.solve(PETROL, {"rail": np.array([20.0, 400.0]) * L_H}).outcome
    assert outcome.reason[0] == ""
    assert outcome.reason[1]
    assert set(outcome.worst_part) <= set(net.links)
    assert np.isnan(outcome.largest_draw[0])


def test_a_failure_is_told_of_each_point_apart():
    """One batch with a point that solves, one that is overdrawn and one that is cut off."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("rail", "behind"):
        net.add_node(name)
    net.connect("tank", "rail", Line(length=1.0, bore=0.004), name="line")
    net.connect("behind", "rail", CheckValve(), name="valve")
    draws = {"rail": np.array([10.0, 5000.0, 10.0]) * L_H, "behind": np.array([0.0, 0.0, 5.0]) * L_H}
    outcome = net.solve(PETROL, draws).outcome
    assert outcome.code.tolist() == [OutcomeCode.SOLVED, OutcomeCode.OUTSIDE_RATINGS, OutcomeCode.CUT_OFF]
    assert outcome.worst_part.tolist()[1:] == ["line", "valve"]
    assert "the draw of 5000 L/h" in outcome.reason[1]
    assert "the 5 L/h drawn from 'behind'" in outcome.reason[2]
