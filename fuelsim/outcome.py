"""What became of each operating point, as data with a sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np

from fuelsim.typing import IndexArray

__all__ = ["Outcome", "OutcomeCode"]


class OutcomeCode(IntEnum):
    """How one operating point ended. Only a solved point has numbers in its results; every other is NaN.

    A point outside ratings has a solution that no real part could follow, or none because it draws too much; a point
    cut off draws from where valves let nothing flow to. Not converged is said only where no cause was found.
    """

    SOLVED = 0
    OUTSIDE_RATINGS = 1
    NOT_CONVERGED = 2
    BAD_INPUT = 3
    CUT_OFF = 4


_WORDS = {
    OutcomeCode.SOLVED: "solved",
    OutcomeCode.OUTSIDE_RATINGS: "outside ratings",
    OutcomeCode.NOT_CONVERGED: "not converged",
    OutcomeCode.BAD_INPUT: "bad input",
    OutcomeCode.CUT_OFF: "cut off",
}


@dataclass(frozen=True)
class Outcome:
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

    code: Any
    iterations: Any
    pressure_residual: Any
    flow_residual: Any
    mass_residual: Any
    worst_part: Any
    reason: Any
    largest_draw: Any = None

    @property
    def converged(self) -> Any:
        """Bool array: whether the point solved and its results are numbers."""
        return np.asarray(self.code) == OutcomeCode.SOLVED

    def at(self, points: int | IndexArray) -> Outcome:
        """Return the outcome of one point, or of some by an index array."""
        return self.mapped(lambda values: values[points])

    def mapped(self, function: Callable[[Any], Any]) -> Outcome:
        """Return the outcome with every array replaced by a function of it, as to give it another shape."""
        return Outcome(**{name: None if values is None else function(values) for name, values in vars(self).items()})

    def sentence(self, index: Any = ()) -> str:
        """Return what happened at one point, in a sentence; `index` may be left out for a single point."""
        code = OutcomeCode(int(np.asarray(self.code)[index]))
        iterations = int(np.asarray(self.iterations)[index])
        part = str(np.asarray(self.worst_part)[index])
        reason = str(np.asarray(self.reason)[index])
        if code is OutcomeCode.SOLVED:
            residual = float(np.asarray(self.pressure_residual)[index])
            largest = f" at '{part}'" if part else ""
            said = f"Solved in {iterations} iterations; the largest pressure error is {residual:.2g} Pa{largest}"
            return f"{said}; {reason}." if reason else f"{said}."
        return f"{_WORDS[code].capitalize()}: {reason or part}."

    def summary(self) -> str:
        """Return one sentence on the whole batch."""
        codes = np.atleast_1d(self.code).ravel()
        counts = Counter(OutcomeCode(int(code)) for code in codes)
        said = f"{counts[OutcomeCode.SOLVED]} of {codes.size} operating points solved"
        for code in list(OutcomeCode)[1:]:
            if counts[code]:
                first = int(np.argmax(codes == code))
                reason = str(np.atleast_1d(self.reason).ravel()[first])
                said += f"; {counts[code]} {_WORDS[code]} (first: point {first}, {reason})"
        return said
