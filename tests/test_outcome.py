"""What became of each operating point, as data with a sentence."""

import dataclasses

import numpy as np
import pytest

from fuelsim.outcome import Outcome, OutcomeCode


def report(codes, reasons=None):
    codes = np.asarray(codes)
    return Outcome(
        code=codes,
        iterations=np.full(codes.shape, 7),
        pressure_residual=np.full(codes.shape, 2e-3),
        flow_residual=np.full(codes.shape, 1e-9),
        mass_residual=np.zeros(codes.shape),
        worst_part=np.full(codes.shape, "feed"),
        reason=np.asarray(reasons if reasons is not None else np.full(codes.shape, "")),
    )


def test_only_solved_points_count_as_converged():
    assert report([0, 1, 2, 3]).converged.tolist() == [True, False, False, False]
    assert report([[0, 1], [0, 0]]).converged.shape == (2, 2)


def test_sentence_names_iterations_error_and_part_of_a_solved_point():
    assert report([0, 0]).sentence(1) == "Solved in 7 iterations; the largest pressure error is 0.002 Pa at 'feed'."
    assert report(0).sentence() == report([0]).sentence(0)
    assert report([[0, 0]]).sentence((0, 1)).startswith("Solved")


def test_sentence_gives_the_reason_of_a_failed_point_or_else_the_part():
    reasons = ["", "the draw is more than the pump can push; draw less"]
    assert report([0, 1], reasons).sentence(1) == f"Outside ratings: {reasons[1]}."
    assert report([2]).sentence(0) == "Not converged: feed."


def test_summary_counts_every_kind_and_shows_the_first_reason_of_each():
    text = report([0, 2, 1, 2], ["", "a", "b", "c"]).summary()
    assert text == (
        "1 of 4 operating points solved; 1 outside ratings (first: point 2, b); 2 not converged (first: point 1, a)"
    )
    assert report(0).summary() == "1 of 1 operating points solved"


def test_points_of_points_are_taken_again_and_again():
    # Results keep what they were made from beside their own values, which is no array over the points.
    some = report([0, 2, 1, 2]).at(np.array([1, 2, 3])).at(np.array([2]))
    assert some.code.tolist() == [2]


def test_outcome_is_frozen_and_its_codes_are_fixed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        report([0]).code = 1
    assert [code.name for code in OutcomeCode] == [
        "SOLVED",
        "OUTSIDE_RATINGS",
        "NOT_CONVERGED",
        "BAD_INPUT",
        "CUT_OFF",
        "RUNS_DRY",
        "ENGINE_STOPPED",
    ]
