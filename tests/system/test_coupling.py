"""How points go through the rounds of the coupling and leave it, on a problem whose points end at known rounds."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fuelsim.system.coupling import ROUNDS, STARVING_ROUNDS, _solve

NEVER = 10**6


class Batch:
    """What a round holds of each point: its number, in whatever order the batch has come to."""

    def __init__(self, points, number):
        self.points, self.number = points, number

    def take(self, index):
        return Batch(self.points[index], self.number)


class State(Batch):
    """State of the network in a round."""

    def __init__(self, points, number, fails):
        super().__init__(points, number)
        self.fails = fails
        self.outcome = SimpleNamespace(converged=fails[points] != number, points=points)

    def take(self, index):
        return State(self.points[index], self.number, self.fails)


class Iterate(Batch):
    """Start of a round; the points agree with it from the round on that each ends in."""

    def __init__(self, problem, points, number=1):
        super().__init__(points, number)
        self.problem = problem

    def take(self, index):
        return Iterate(self.problem, self.points[index], self.number)

    def converged(self, update, following):
        assert np.array_equal(update.points, self.points)
        assert np.array_equal(following.points, self.points)
        return self.problem.ends[self.points] <= self.number

    def pumps_converged(self, update, following):
        return self.problem.pumps_end[self.points] <= self.number


class Problem:
    """A problem of some points, each with the rounds in which it ends or fails, and its pumps and jets settle."""

    def __init__(self, ends, fails=NEVER, pumps_end=NEVER, starves=False, jets=0, points=None):
        count = len(ends)
        self.ends = np.array(ends)
        self.fails, self.pumps_end, self.jets = (np.broadcast_to(each, count) for each in (fails, pumps_end, jets))
        self.starves = np.broadcast_to(starves, count)
        self.points = np.arange(count) if points is None else points
        self.tables = SimpleNamespace(density=lambda mean: mean)
        self.sizes = []

    def take(self, index):
        other = Problem(self.ends, self.fails, self.pumps_end, self.starves, self.jets, self.points[index])
        other.sizes = self.sizes
        return other

    def all_liquid(self):
        return Iterate(self, self.points)

    def standing(self):
        raise AssertionError("from above only where that is asked")

    def mean_temperatures(self, iterate):
        return iterate.points[None]

    def liquids(self, iterate, mean, density, start):
        assert start is None or np.array_equal(start.points, iterate.points)
        return iterate

    def network(self, iterate, start):
        assert np.array_equal(iterate.points, self.points)
        self.sizes.append(len(iterate.points))
        return SimpleNamespace(solve=lambda liquids, start: State(iterate.points, iterate.number, self.fails))

    def update(self, iterate, state, density):
        assert np.array_equal(density[0], iterate.points)
        assert np.array_equal(state.points, iterate.points)
        return Batch(iterate.points, iterate.number)

    def following(self, iterate, update):
        return Iterate(self, iterate.points, iterate.number + 1)

    def jets_converged(self, before, state):
        return self.jets[state.points] <= state.number

    def starved(self, state):
        return self.starves[state.points]


class Solved:
    """Notes in which round each point is stored, whether as converged, and which failed."""

    def __init__(self, count):
        self.rounds, self.converged, self.failed = np.zeros(count, int), np.zeros(count, bool), {}

    def store(self, active, leaving, converged, number, state, update):
        assert np.array_equal(state.points, active)
        assert np.array_equal(update.points, active)
        assert not np.any(self.rounds[active[leaving]])
        self.rounds[active[leaving]] = number
        self.converged[active[leaving]] = converged[leaving]

    def store_failed(self, where, number, outcome):
        assert np.array_equal(outcome.points, where)
        for point in where:
            assert point not in self.failed
            self.failed[int(point)] = number


def solve(problem):
    solved = Solved(len(problem.ends))
    _solve(problem, problem.points, solved, False)
    return solved


def test_points_leave_in_the_round_in_which_they_converge():
    ends = [3, 1, 7, 2, 7, 5]
    solved = solve(Problem(ends))
    assert solved.rounds.tolist() == ends
    assert solved.converged.all()
    assert not solved.failed


def test_a_batch_is_made_smaller_once_a_fifth_of_it_has_left():
    """Of twenty points three, four and five that have left: only five are more than a fifth."""
    ends = [2] * 3 + [3] + [4] + [6] * 15
    problem = Problem(ends)
    assert solve(problem).rounds.tolist() == ends
    assert problem.sizes == [20, 20, 20, 20, 15, 15]


def test_points_that_the_network_cannot_solve_leave_the_others_to_go_on():
    """They fail in the first round and in a later one, after which nobody is mistaken for another."""
    solved = solve(Problem([4, 9, 5, 3, 9, 6], fails=[NEVER, 1, NEVER, NEVER, 3, NEVER]))
    assert solved.failed == {1: 1, 4: 3}
    assert solved.rounds[[0, 2, 3, 5]].tolist() == [4, 5, 3, 6]
    every = solve(Problem([4, 9], fails=[2, 2]))
    assert every.failed == {0: 2, 1: 2}
    assert every.rounds.tolist() == [0, 0]


def test_a_point_that_has_left_fails_no_more():
    """The network of a point that stays in the batch after it was stored may fail: its answer stands."""
    solved = solve(Problem([2] + [5] * 9, fails=[3] + [NEVER] * 9))
    assert not solved.failed
    assert solved.rounds.tolist() == [2] + [5] * 9


def test_points_that_never_converge_leave_with_the_last_round():
    solved = solve(Problem([2, NEVER]))
    assert solved.rounds.tolist() == [2, ROUNDS]
    assert solved.converged.tolist() == [True, False]


@pytest.mark.parametrize(("starves", "leaves"), [(True, STARVING_ROUNDS + 1), (False, 30)])
def test_a_starving_engine_waits_for_its_pumps_only(starves, leaves):
    """After fifteen rounds, and not without the pumps."""
    solved = solve(Problem([30, 30], pumps_end=[4, 25], starves=starves))
    assert solved.rounds.tolist() == [leaves, 25 if starves else 30]
    assert solved.converged.all()


def test_no_point_has_converged_before_its_jet_pumps_have():
    assert solve(Problem([2, 6], jets=[5, 3])).rounds.tolist() == [5, 6]


def test_from_above_begins_with_standing_fuel():
    problem = Problem([1, 2])
    problem.standing, problem.all_liquid = problem.all_liquid, problem.standing
    solved = Solved(2)
    _solve(problem, problem.points, solved, True)
    assert solved.rounds.tolist() == [1, 2]
