"""A plumbing of the car's own, as a car file describes it: runs of names in the order of flow."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.errors import InputError
from fuelsim.fields import Ratings, quantities, runs, text
from fuelsim.named_tables import NamedValues

__all__ = ["PlumbingDescription"]


@dataclass(frozen=True)
class PlumbingDescription(Ratings):
    """One way to plumb the car, as runs of names: tables of the car are parts, ``tank`` and pots are vessels.

    Any other name is a junction, where runs meet. The car checks the runs, because it knows what its names are.

    Examples
    --------
    >>> loop = PlumbingDescription(runs=[["tank", "pump", "rail", "rail_regulator", "tank"]], title="short loop")
    >>> loop.runs[0][:3]
    ('tank', 'pump', 'rail')
    """

    runs: tuple[tuple[str, ...], ...] = runs(
        "Runs: lists of names of vessels, parts and junctions in the order of flow."
    )
    title: str = text("Title for people; left out, the name.", default="", example="twin rails with crossover")
    heights: NamedValues[float] = quantities(
        "length",
        "Height of junctions, of parts (both ends) and of single ends above the tank's floor, by name; left out, that "
        "of what is connected.",
        least=-2.0,
        most=3.0,
        example="0.5 m",
    )

    def check(self) -> None:
        """Raise InputError for no runs, or a run of fewer than two names."""
        if not self.runs:
            raise InputError("no runs", given=[], accepted="at least one run", key="runs")
        for run in self.runs:
            if len(run) < 2:
                raise InputError("a run of fewer than two names", given=list(run), accepted="two or more", key="runs")
