"""How each operating point ended, as data with a sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np

from fuelsim.arguments import takes, unchecked
from fuelsim.errors import InputError
from fuelsim.shown import Shown
from fuelsim.typing import ArrayLike, BoolArray, FloatArray, IndexArray, IntegerArray, TextArray

__all__ = ["Outcome", "OutcomeCode", "require_points"]


class OutcomeCode(IntEnum):
    """How one operating point ended.

    Only points that solved, whose pot runs dry or whose engine stops have numbers in their results; every other is NaN.
    Those of a pot that runs dry hold for as long as it lasts, those of an engine that stops are of the pump cut.

    A point outside ratings has a solution that no real part could follow, or none because it draws too much; a point
    cut off draws from where valves let nothing flow to. Not converged is said only where no cause was found.

    Examples
    --------
    >>> OutcomeCode(2).name
    'NOT_CONVERGED'
    """

    SOLVED = 0
    OUTSIDE_RATINGS = 1
    NOT_CONVERGED = 2
    BAD_INPUT = 3
    CUT_OFF = 4
    RUNS_DRY = 5
    ENGINE_STOPPED = 6

    @property
    def in_words(self) -> str:
        """How the point ended, in words."""
        return _IN_WORDS[self]


_IN_WORDS = {
    OutcomeCode.SOLVED: "solved",
    OutcomeCode.OUTSIDE_RATINGS: "outside ratings",
    OutcomeCode.NOT_CONVERGED: "not converged",
    OutcomeCode.BAD_INPUT: "bad input",
    OutcomeCode.CUT_OFF: "cut off",
    OutcomeCode.RUNS_DRY: "runs dry",
    OutcomeCode.ENGINE_STOPPED: "engine stopped",
}


@dataclass(frozen=True)
class Outcome(Shown):
    """Report on a batch of operating points; every array has the shape of the batch.

    Attributes
    ----------
    code : int array
        Values of `OutcomeCode`.
    iterations : int array
        Newton iterations (or coupling rounds) spent.
    pressure_residual : float array
        Largest error of a link equation, Pa.
    flow_residual : float array
        Largest error of a link equation divided by its slope, as a fraction of the point's largest flow.
    mass_residual : float array
        Largest mass imbalance of a node, as a fraction of the point's largest flow.
    worst_part : str array
        The link or node with the largest error, or to blame.
    reason : str array
        What happened and what to try; where solved empty, or what vapour does there.
    largest_draw : float array or None
        Where the draws are more than the network can supply, the largest fraction of them that it can; NaN elsewhere,
        None where no network was solved.

    Examples
    --------
    >>> zero = np.zeros(2)
    >>> report = Outcome(np.array([0, 1]), np.array([5, 9]), zero, zero, zero, np.array(["feed", "rail"]),
    ...                  np.array(["", "the draw at 'rail' is more than the pump can push; draw less"]))
    >>> report.summary()
    "1 of 2 operating points solved;
     1 outside ratings (first: point 1, the draw at 'rail' is more than the pump can push; draw less)"
    """

    code: IntegerArray
    iterations: IntegerArray
    pressure_residual: FloatArray
    flow_residual: FloatArray
    mass_residual: FloatArray
    worst_part: TextArray
    reason: TextArray
    largest_draw: FloatArray | None = None

    @property
    def headline(self) -> str:
        """Return how many points solved."""
        return self.summary()

    @property
    def converged(self) -> BoolArray:
        """Whether each point solved and holds for good, bool array."""
        return np.equal(self.code, int(OutcomeCode.SOLVED))

    @property
    def has_values(self) -> BoolArray:
        """Whether the results of each point are numbers, bool array: it solved, a pot runs dry or the engine stops."""
        ends = (int(OutcomeCode.RUNS_DRY), int(OutcomeCode.ENGINE_STOPPED))
        return self.converged | np.isin(self.code, ends)

    @takes()
    def at(self, points: int | IndexArray) -> Outcome:
        """Return the outcome of some points.

        Parameters
        ----------
        points : int or int array
            One point, or several by their numbers.

        Returns
        -------
        Outcome

        Raises
        ------
        InputError
            For a point that there is not.
        """
        require_points(np.shape(self.code), points)
        return unchecked(self.mapped)(lambda values: np.asarray(values)[points])

    @takes()
    def mapped(self, function: Callable[[ArrayLike], ArrayLike]) -> Outcome:
        """Return the outcome with every array replaced by a function of it, as to give it another shape.

        Parameters
        ----------
        function : callable
            From an array to an array.

        Returns
        -------
        Outcome
        """
        given = {each.name: values for each in fields(self) if (values := getattr(self, each.name)) is not None}
        return Outcome(**{name: np.asarray(function(values))[()] for name, values in given.items()})

    @takes()
    def sentence(self, index: int | tuple[int, ...] = ()) -> str:
        """Return what happened at one point.

        Parameters
        ----------
        index : int or tuple of int
            Which point, as numpy indexes an array of the shape of the batch; left out for a single point.

        Returns
        -------
        str
            A sentence.

        Raises
        ------
        InputError
            For a point that there is not.
        """
        require_points(np.shape(self.code), index, single=True)
        code = OutcomeCode(int(np.asarray(self.code)[index]))
        iterations = int(np.asarray(self.iterations)[index])
        part = str(np.asarray(self.worst_part)[index])
        reason = str(np.asarray(self.reason)[index])
        if code is OutcomeCode.SOLVED:
            residual = float(np.asarray(self.pressure_residual)[index])
            largest = f" at '{part}'" if part else ""
            text = f"Solved in {iterations} iterations; the largest pressure error is {residual:.2g} Pa{largest}"
            return f"{text}; {reason}." if reason else f"{text}."
        return f"{_IN_WORDS[code].capitalize()}: {reason or part}."

    def summary(self) -> str:
        """Return how many points solved, and how many ended otherwise with the reason of the first.

        Returns
        -------
        str
            One sentence.
        """
        codes = np.atleast_1d(self.code).ravel()
        counts = Counter(OutcomeCode(int(code)) for code in codes)
        text = f"{counts[OutcomeCode.SOLVED]} of {codes.size} operating points solved"
        for code in list(OutcomeCode)[1:]:
            if counts[code]:
                first = int(np.argmax(codes == code))
                reason = str(np.atleast_1d(self.reason).ravel()[first])
                text += f"; {counts[code]} {_IN_WORDS[code]} (first: point {first}, {reason})"
        return text


def require_points(shape: tuple[int, ...], index: int | tuple[int, ...] | IndexArray, *, single: bool = False) -> None:
    """Raise an error where a batch of operating points has no point of this index.

    Parameters
    ----------
    shape : tuple of int
        Shape of the batch.
    index : int, tuple of int or int array
        Which point or points, as numpy indexes an array.
    single : bool
        Whether one point is wanted.

    Raises
    ------
    InputError
        Where there is none.

    Examples
    --------
    >>> require_points((2,), 1)
    """
    try:
        chosen = np.empty(shape, dtype=bool)[index]
    except IndexError:
        raise InputError("no such point", given=index, accepted=f"points of a batch of shape {shape}") from None
    if single and np.ndim(chosen):
        accepted = f"an index for each axis of a batch of shape {shape}, as in (0,)"
        raise InputError("not one point", given=index, accepted=accepted, key="index")
