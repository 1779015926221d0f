"""The iteration of the coupling on maps with known fixed points: how it steps, where it is damped, when it ends."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from fuelsim.parts.pump.inlet_gas import InletGas
from fuelsim.system.fixed_point import (
    MOST_VAPOUR,
    TEMPERATURE_TOLERANCE,
    VAPOUR_TOLERANCE,
    Draws,
    Iterate,
    Update,
)

START = 300.0
DRAWS = Draws.of(2, np.array([1]), np.array([1, 0]), np.array([True, False]))
"""Two stations and two links: a pump draws at the second station, through the first link, which ends there."""
SETTLED = np.array([True])


def gas(displaced=2.0):
    return InletGas(np.array([[displaced]]), np.zeros((1, 1)), np.full((1, 1), 9e4))


def first(*, from_above=False, displaced=2.0):
    return Iterate.of(np.full((2, 1), START), np.full((2, 1), START), gas(displaced), from_above=from_above)


def update(iterate, *, inlet=None, node=None, outlet=None, vapour=0.0, drawn=0.0, displaced=None):
    """Return an update that leaves everything where it is but what is given: temperature at the pump's inlet (and at
    the end of the link before it), at the other station, at the end of the other link, x behind and before the pump."""
    nodes, outlets = iterate.nodes.copy(), iterate.outlets.copy()
    if inlet is not None:
        nodes[1], outlets[0] = inlet, inlet
    if node is not None:
        nodes[0] = node
    if outlet is not None:
        outlets[1] = outlet
    return Update(
        nodes,
        outlets,
        vapour=np.array([[drawn], [vapour]]),
        drawn_vapour=np.array([[drawn], [0.0]]),
        standing=np.zeros((2, 1), dtype=bool),
        displaced=np.asarray(iterate.gas.displaced) if displaced is None else np.array([[displaced]]),
    )


def inlet_after(iterate, function, rounds):
    """Return the temperature at the pump's inlet after some rounds of a map of it."""
    for _ in range(rounds):
        iterate = iterate.next(update(iterate, inlet=function(iterate.nodes[1])), DRAWS, SETTLED)
    return float(iterate.nodes[1, 0])


def test_pumps_draw_through_the_links_and_at_the_stations_named():
    assert DRAWS.inlets.tolist() == [1]
    assert DRAWS.links.tolist() == [True, False]
    assert DRAWS.at_inlets[:, 0].tolist() == [False, True, True, False]
    # The end of a link that no pump draws through is none of its inlet's, though it ends there.
    other = Draws.of(2, np.array([1]), np.array([1, 1]), np.array([True, False]))
    assert other.at_inlets[:, 0].tolist() == [False, True, True, False]


def test_the_first_iterate_has_no_vapour_and_nothing_behind_it():
    start = first()
    assert not np.any(start.vapour)
    assert not np.any(start.standing)
    assert not np.any(start.held)
    assert np.isnan(start.residual).all()
    assert np.isnan(start.warming).all()
    assert start.warming.shape == (1, 1)
    assert (start.relaxation.tolist(), start.step.tolist()) == ([[1.0], [1.0]], [1.0])
    assert (start.drift.tolist(), start.pace.tolist()) == ([[0.0]] * 4, [[1.0]] * 4)
    assert (start.swings.tolist(), start.rounds, start.from_above) == ([0.0], 0, False)
    assert first(from_above=True).from_above


@pytest.mark.parametrize("slope", [-0.5, 0.25, 0.5, 0.8])
def test_the_secant_of_two_rounds_solves_a_linear_map(slope):
    """Aitken: T -> T* + slope (T - T*) is solved by a plain step and one along the secant."""
    end = START + 1.0
    assert inlet_after(first(), lambda at: end + slope * (at - end), 2) == pytest.approx(end, abs=1e-9)


def test_from_above_every_step_is_plain():
    """Iteration from above comes to the greatest solution only if it passes none."""
    start = first(from_above=True)
    assert inlet_after(start, lambda at: START + 1.0 + 0.5 * (at - START - 1.0), 3) == pytest.approx(START + 0.875)


def test_pumps_without_gas_need_no_secant():
    start = first(displaced=1.0)
    assert inlet_after(start, lambda at: START + 1.0 + 0.5 * (at - START - 1.0), 3) == pytest.approx(START + 0.875)


def test_a_lengthened_step_goes_no_further_than_3_kelvin_beyond_a_plain_one():
    """From 300 K a map with a slope of 0.95 towards 400 K: 5 K at first, then 4.75 K plain, which the secant would make
    95 K."""
    assert inlet_after(first(), lambda at: 400.0 + 0.95 * (at - 400.0), 2) == pytest.approx(305.0 + 4.75 + 3.0)


@pytest.mark.parametrize("growth", [0.05, 0.5])
def test_a_map_that_warms_more_and_more_is_followed_with_the_longest_step(growth):
    """Beyond a fold there is no solution near: each round warms more than the last, and the step goes to its bound of
    twenty plain ones."""
    second = 0.1 + growth * 0.1
    end = inlet_after(first(), lambda at: at + 0.1 + growth * (at - START), 2)
    assert end == pytest.approx(START + 0.1 + 20.0 * second)


def test_temperatures_that_hardly_move_need_no_secant():
    """Below a ten-thousandth of a kelvin, a tenth of their tolerance."""
    for size, steps in ((0.96e-4, 1.0), (1.06e-4, 2.0)):
        one = dataclasses.replace(first(), rounds=1, warming=np.array([[2.0 * size]]))
        two = one.next(update(one, inlet=START + size), DRAWS, SETTLED)
        assert two.step[0] == pytest.approx(steps)


def test_temperatures_away_from_the_pumps_take_plain_steps():
    start = first()
    one = start.next(update(start, inlet=START + 1.0, node=START + 1.0, outlet=START + 1.0), DRAWS, SETTLED)
    two = one.next(update(one, inlet=START + 1.5, node=START + 1.5, outlet=START + 1.5), DRAWS, SETTLED)
    assert two.nodes[:, 0] == pytest.approx([START + 1.5, START + 2.0])
    assert two.outlets[:, 0] == pytest.approx([START + 2.0, START + 1.5])


def test_temperatures_wait_until_gas_has_settled():
    start = first()
    held = start.next(
        update(start, inlet=START + 5.0, node=START + 5.0, outlet=START + 5.0, drawn=0.2, vapour=0.2),
        DRAWS,
        np.array([False]),
    )
    assert held.nodes.tolist() == start.nodes.tolist()
    assert held.outlets.tolist() == start.outlets.tolist()
    assert held.held.all()
    # Gas goes on: x is carried to its update in the first round.
    assert held.vapour[:, 0] == pytest.approx([0.2, 0.2])
    # What the secant needs stays that of the last round in which they moved.
    assert np.isnan(held.warming).all()
    assert held.drift.tolist() == start.drift.tolist()
    assert held.rounds == 1
    moved = held.next(update(held, inlet=START + 1.0), DRAWS, SETTLED)
    assert not moved.held.any()
    assert moved.warming.tolist() == [[1.0]]
    assert moved.nodes[1, 0] == START + 1.0


def test_a_secant_of_each_link_s_vapour_solves_a_linear_map_that_plain_steps_would_not():
    """Behind the pump x -> 0.6 - 2 x swings ever wider by itself; its solution is 0.2."""
    iterate = first()
    for _ in range(2):
        iterate = iterate.next(update(iterate, vapour=0.6 - 2.0 * float(iterate.vapour[1, 0])), DRAWS, SETTLED)
    # The first step went to 0.6, where the update is below zero: -0.6, a secant of which meets at 0.2.
    assert iterate.vapour[1, 0] == pytest.approx(0.2)
    assert iterate.relaxation[1, 0] == pytest.approx(1.0 / 3.0)


def test_a_secant_of_vapour_goes_at_most_twice_and_at_least_a_twentieth_of_the_way():
    """Residuals of 0.2 and then 0.19 ask for 20 times the step, and 0.2 and then -8 for a fortieth."""
    for second, share in ((0.19, 2.0), (0.4, 2.0), (-8.0, 0.05), (-0.2, 0.5)):
        start = first()
        one = start.next(update(start, vapour=0.2), DRAWS, SETTLED)
        two = one.next(update(one, vapour=float(one.vapour[1, 0]) + second), DRAWS, SETTLED)
        assert two.relaxation[1, 0] == pytest.approx(share)
        assert two.vapour[1, 0] == pytest.approx(max(0.2 + share * second, 0.0))


def test_vapour_that_hardly_changes_takes_a_plain_step():
    start = first()
    one = start.next(update(start, vapour=0.2), DRAWS, SETTLED)
    two = one.next(update(one, vapour=float(one.vapour[1, 0]) + 0.096 * VAPOUR_TOLERANCE), DRAWS, SETTLED)
    assert two.relaxation[1, 0] == 1.0
    three = one.next(update(one, vapour=float(one.vapour[1, 0]) + 0.106 * VAPOUR_TOLERANCE), DRAWS, SETTLED)
    assert three.relaxation[1, 0] != 1.0


def test_vapour_stays_between_none_and_all_boiled_away():
    start = first()
    assert start.next(update(start, vapour=1e3), DRAWS, SETTLED).vapour[1, 0] == MOST_VAPOUR
    assert start.next(update(start, vapour=-1.0), DRAWS, SETTLED).vapour[1, 0] == 0.0
    # Petrol that has boiled away fills about 300 times its liquid volume.
    assert 200.0 < np.expm1(MOST_VAPOUR) < 400.0


def test_what_pumps_draw_through_fills_with_gas_step_by_step_from_below_and_at_once_from_above():
    for start, after in ((first(), 0.4), (first(from_above=True), 3.0)):
        assert start.next(update(start, drawn=3.0), DRAWS, SETTLED).vapour[0, 0] == pytest.approx(after)
    # Gas that goes, and gas in other links, is bounded neither way.
    full = dataclasses.replace(first(), vapour=np.array([[3.0], [0.0]]))
    assert full.next(update(full, drawn=0.5, vapour=3.0), DRAWS, SETTLED).vapour[:, 0] == pytest.approx([0.5, 3.0])


def test_what_pumps_draw_through_has_no_secant_while_temperatures_move():
    """A secant over a round in which the fuel warmed would be one of the warming."""
    start = first()
    one = start.next(update(start, drawn=0.2, inlet=START + 1.0), DRAWS, SETTLED)
    two = one.next(update(one, drawn=0.3, inlet=START + 1.0), DRAWS, SETTLED)
    assert two.vapour[0, 0] == pytest.approx(0.3)
    # Held, the residuals 0.2 and 0.1 are one of a slope of a half: the secant meets at 0.4.
    one = start.next(update(start, drawn=0.2), DRAWS, np.array([False]))
    two = one.next(update(one, drawn=0.3), DRAWS, np.array([False]))
    assert two.vapour[0, 0] == pytest.approx(0.4)


def test_temperatures_that_go_back_and_forth_are_slowed_after_some_rounds_and_quickened_again():
    """Halved at each turn, a quarter more at each round without, never more than a plain step: it is a station away
    from the pumps, whose update swings by 2 K about 301 K. Without slowing it would swing for ever."""
    iterate, paces = first(), []
    for number in range(10):
        iterate = iterate.next(update(iterate, node=602.0 - float(iterate.nodes[0, 0])), DRAWS, SETTLED)
        paces.append(float(iterate.pace[0, 0]))
        assert iterate.rounds == number + 1
    assert paces[:6] == [1.0] * 6
    assert paces[6] == 0.5
    assert abs(float(iterate.nodes[0, 0]) - 301.0) < 0.05
    for _ in range(8):
        iterate = iterate.next(update(iterate, node=float(iterate.nodes[0, 0]) + 0.1), DRAWS, SETTLED)
    assert iterate.pace[0, 0] == 1.0
    # The pump's inlet is left to the secant as long as it moves.
    assert np.all(iterate.pace[1:3] == 1.0)


def test_a_pump_s_inlet_that_goes_back_and_forth_is_slowed_only_once_it_hardly_moves():
    """As long as it moves by more than its tolerance it is left to the secant."""
    for warming, pace in ((1.0, 1.0), (1.1e-3, 1.0), (0.9e-3, 0.5)):
        base = dataclasses.replace(first(), rounds=6, drift=np.full((4, 1), -1.0), warming=np.array([[-1.0]]))
        turned = base.next(update(base, inlet=START + warming), DRAWS, SETTLED)
        assert turned.pace[1:3, 0].tolist() == [pace, pace]
    # A pace that was halved comes back by a quarter a round.
    slow = dataclasses.replace(first(), rounds=6, pace=np.full((4, 1), 0.5), drift=np.ones((4, 1)))
    assert slow.next(update(slow, node=START + 1.0), DRAWS, SETTLED).pace[0, 0] == 0.625


def test_the_pace_has_a_least():
    iterate = dataclasses.replace(first(), rounds=6)
    for turn in range(12):
        iterate = iterate.next(update(iterate, node=START + (-1.0) ** turn * 10.0), DRAWS, SETTLED)
    assert iterate.pace[0, 0] == 0.05


def test_turns_of_the_temperature_at_a_pump_are_counted_where_gas_has_settled():
    iterate = first()
    for inlet, settled, turns in (
        (START + 1.0, True, 0),
        (START + 0.5, True, 1),
        (START + 2.0, False, 1),
        (START + 2.0, True, 2),
    ):
        iterate = iterate.next(update(iterate, inlet=inlet), DRAWS, np.array([settled]))
        assert iterate.swings[0] == turns


def test_a_step_that_turned_back_twice_is_halved_at_each_further_turn():
    """A map whose slope is as steep as a step is long has no secant that helps: both sides close in by halves."""
    iterate = dataclasses.replace(
        first(), rounds=3, swings=np.array([2.0]), step=np.array([0.4]), warming=np.array([[1.0]])
    )
    turned = iterate.next(update(iterate, inlet=START - 0.1), DRAWS, SETTLED)
    # The secant asks for 0.4/(1 + 0.1), more than the half of 0.4.
    assert turned.step[0] == pytest.approx(0.2)
    assert turned.nodes[1, 0] == pytest.approx(START - 0.2 * 0.1)
    onward = iterate.next(update(iterate, inlet=START + 0.9), DRAWS, SETTLED)
    # Onward it asks for 0.4/(1 - 0.9) and gets half as much again.
    assert onward.step[0] == pytest.approx(0.6)
    free = dataclasses.replace(iterate, swings=np.array([1.0]))
    assert free.next(update(free, inlet=START - 0.1), DRAWS, SETTLED).step[0] == pytest.approx(0.4 / 1.1)
    steep = iterate.next(update(iterate, inlet=START - 9.0), DRAWS, SETTLED)
    assert steep.step[0] == pytest.approx(0.4 / 10.0)


def test_secants_of_vapour_that_chase_one_another_are_damped_after_thirty_rounds():
    """To 0.6 of the share before at each change of sign, a quarter more at each round without."""
    base = dataclasses.replace(first(), rounds=30, relaxation=np.ones((2, 1)), residual=np.full((2, 1), 0.1))
    turned = base.next(update(base, vapour=-0.01), DRAWS, SETTLED)
    assert turned.relaxation[1, 0] == pytest.approx(0.6)
    slower = dataclasses.replace(base, relaxation=np.full((2, 1), 0.5))
    assert slower.next(update(slower, vapour=-0.01), DRAWS, SETTLED).relaxation[1, 0] == pytest.approx(0.3)
    steep = base.next(update(base, vapour=-0.3), DRAWS, SETTLED)
    assert steep.relaxation[1, 0] == pytest.approx(0.25)
    assert base.next(update(base, vapour=0.05), DRAWS, SETTLED).relaxation[1, 0] == pytest.approx(1.25)
    fast = dataclasses.replace(base, relaxation=np.full((2, 1), 1.9))
    assert fast.next(update(fast, vapour=0.05), DRAWS, SETTLED).relaxation[1, 0] == 2.0
    early = dataclasses.replace(base, rounds=29)
    assert early.next(update(early, vapour=-0.01), DRAWS, SETTLED).relaxation[1, 0] == pytest.approx(1.0 / 1.1)


def test_temperatures_stay_where_fuel_can_be():
    start = first()
    assert start.next(update(start, node=1e4, outlet=-50.0), DRAWS, SETTLED).nodes[0, 0] == pytest.approx(700.0)
    assert start.next(update(start, node=1e4, outlet=-50.0), DRAWS, SETTLED).outlets[1, 0] == pytest.approx(150.0)


def test_a_round_has_converged_when_everything_agrees_within_its_tolerance():
    start = dataclasses.replace(first(), warming=np.zeros((1, 1)), vapour=np.array([[0.2], [0.3]]))
    near, far = 0.9, 1.1
    for what, tolerance in (("outlet", TEMPERATURE_TOLERANCE), ("vapour", VAPOUR_TOLERANCE)):
        base = START if what == "outlet" else 0.3
        for share in (near, -near, far, -far):
            made = update(start, **({"drawn": 0.2, "vapour": 0.3} | {what: base + share * tolerance}))
            assert start.converged(made, start).tolist() == [abs(share) < 1.0]
    for share in (near, -near, far, -far):
        following = dataclasses.replace(start, step=np.array([2.0]), warming=np.array([[share * 0.5e-3]]))
        assert start.converged(update(start, drawn=0.2, vapour=0.3), following).tolist() == [abs(share) < 1.0]
        assert start.pumps_converged(update(start), following).tolist() == [abs(share) < 1.0]
        made = update(start, drawn=0.2, vapour=0.3, displaced=2.0 * np.exp(share * VAPOUR_TOLERANCE))
        assert start.converged(made, start).tolist() == [abs(share) < 1.0]
        assert start.gas_error(made) == pytest.approx([abs(share) * VAPOUR_TOLERANCE])
    # Temperatures and vapour behind the pumps do not matter to the pumps.
    assert start.pumps_converged(update(start, outlet=400.0, vapour=3.0), start).all()


def test_an_iterate_of_some_points_is_that_of_all_at_them():
    rng = np.random.default_rng(1)
    shape = {"step": (3,), "swings": (3,), "held": (3,), "warming": (1, 3), "drift": (4, 3), "pace": (4, 3)}
    names = [item.name for item in dataclasses.fields(Iterate) if item.name not in ("gas", "from_above", "rounds")]
    values = {name: rng.random(shape.get(name, (2, 3))) for name in names}
    whole = Iterate(**values, gas=InletGas(*(rng.random((1, 3)) for _ in range(3))), from_above=True, rounds=4)
    index = np.array([2, 0])
    some = whole.take(index)
    for name in names:
        assert np.array_equal(getattr(some, name), values[name][..., index])
    assert all(np.array_equal(one, every[:, index]) for one, every in zip(some.gas, whole.gas, strict=True))
    assert (some.from_above, some.rounds) == (True, 4)
