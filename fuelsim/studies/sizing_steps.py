"""What a sizing says about those that it rejects: requirements that reject, and changes that would do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from fuelsim import opener
from fuelsim.shown import Shown
from fuelsim.studies.assessment import RequirementResult

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RejectedBy", "SizingReasons", "Step"]


class RejectedBy(NamedTuple):
    """How many combinations one requirement rejects.

    Attributes
    ----------
    name : str
        Name of the requirement.
    rejects : int
        Combinations that miss it.
    alone : int
        Combinations that miss nothing else, which it would free if it were not asked.
    """

    name: str
    rejects: int
    alone: int


class Step(NamedTuple):
    """One change, and what is missed after it.

    Attributes
    ----------
    change : str
        The change in words.
    missed : tuple of str
        Mandatory requirements that are still missed, the one missed most first.
    unsolved : int
        Operating points without a result.
    least_margin : float
        Least margin of the mandatory requirements as a multiple of their limits.
    """

    change: str
    missed: tuple[str, ...]
    unsolved: int
    least_margin: float

    @property
    def meets(self) -> bool:
        """Whether every mandatory requirement is met on every operating point."""
        return not self.missed and not self.unsolved

    @property
    def distance(self) -> tuple[int, int, float]:
        """How far it is from the requirements, to sort by: without result, missed, least margin."""
        return self.unsolved, len(self.missed), -round(self.least_margin, 3)

    @property
    def outcome(self) -> str:
        """What is left to be done after it, in words."""
        if self.meets:
            return "meets every mandatory requirement in the computation"
        left = f"misses {', '.join(self.missed)}" if self.missed else "misses none where there is a result"
        return f"{left}; {self.unsolved} points without a result" if self.unsolved else left


@dataclass(frozen=True)
class SizingReasons(Shown):
    """Why combinations are rejected, and what to try next.

    Attributes
    ----------
    nearest : int
        The combination that is nearest to the requirements among those rejected.
    misses : tuple of RequirementResult
        The mandatory requirements that it misses, each with its worst operating point.
    rejected_by : tuple of RejectedBy
        The mandatory requirements, those that would free most first.
    assumptions : tuple of Step
        What it misses where an assumption on the operating points does not hold.
    single : tuple of Step
        The best change of each table, from the whole catalogue; the best first.
    in_turn : tuple of Step
        The best change, then the best after it, and so on, to the first that meets the requirements.

    Examples
    --------
    >>> import fuelsim as fs
    >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_200"]})
    >>> reasons = sizing.reasons()
    >>> [item.rule.name for item in reasons.misses], reasons.single[0].change, reasons.single[0].meets
    (['injector_duty'], 'injectors size_250', True)
    """

    nearest: int
    misses: tuple[RequirementResult, ...]
    rejected_by: tuple[RejectedBy, ...]
    assumptions: tuple[Step, ...]
    single: tuple[Step, ...]
    in_turn: tuple[Step, ...]

    @property
    def headline(self) -> str:
        """Return what the nearest miss lacks, and the change that brings it nearest."""
        lacks = ", ".join(item.rule.name for item in self.misses) or "a result at every point"
        best = f"; {self.single[0].change}: {self.single[0].outcome}" if self.single else ""
        return f"The nearest miss lacks {lacks}{best}"

    def table(self) -> pd.DataFrame:
        """Return one row per assumption and per change: what is missed with it.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizing = fs.size(fs.Car.named("finch"), candidates={"injectors": ["size_160", "size_200"]})
        >>> sizing.reasons().table()["misses"].iloc[-1]
        ''
        """
        return opener.reasons_table(self)
