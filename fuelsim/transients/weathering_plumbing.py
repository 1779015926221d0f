"""A plumbing whose fuel weathers in the tank: the stages at which it is tabulated, and the true fuel of each moment.

Neither depends on how long a drive is: the first hour of a day is the drive of an hour.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from fuelsim.numerics.cells import cell_of
from fuelsim.system.run import System
from fuelsim.transients.tank_fuel import WEATHERED

if TYPE_CHECKING:
    from fuelsim.transients.tank_fuel import TankFuel
    from fuelsim.typing import PointArray

__all__ = ["StageWeight", "WeatheringPlumbing", "stage_weights"]

WORTH_WEATHERING = 3e-3
"""Mass fraction evaporated up to which a table is that of the fresh fuel, taken at an equal distance to boiling
(numerical: it saves the second stage in most drives)."""
TABULATED = (0, 2, 4, 5)
"""Stages of evaporation at which the plumbing is tabulated, by their number in `WEATHERED`."""
_KNOTS: list[float] = [WORTH_WEATHERING, *(WEATHERED[stage] for stage in TABULATED[1:])]


class StageWeight(NamedTuple):
    """A stage of evaporation, by its number in `WEATHERED`, and its weight at a moment."""

    stage: int
    weight: float


def stage_weights(evaporated: float) -> list[StageWeight]:
    """Return the stages of evaporation between which a moment lies.

    Parameters
    ----------
    evaporated : float
        Mass fraction evaporated.

    Examples
    --------
    >>> stage_weights(0.002)
    [StageWeight(stage=0, weight=1.0)]
    >>> [(stage, round(weight, 3)) for stage, weight in stage_weights(0.105)]
    [(2, 0.5), (4, 0.5)]
    """
    low, upper = cell_of(_KNOTS, evaporated)
    both = StageWeight(TABULATED[low], 1.0 - upper), StageWeight(TABULATED[low + 1], upper)
    return [member for member in both if member.weight > 0.0]


@dataclass(frozen=True, eq=False)
class WeatheringPlumbing:
    """A car plumbed in one layout, with what its fuel becomes in the tank.

    Attributes
    ----------
    fresh : System
        The car with the fuel before any of it has evaporated.
    fuel : TankFuel
        That fuel as the tank sees it.
    """

    fresh: System
    fuel: TankFuel
    _stages: dict[int, System] = field(default_factory=dict, init=False, repr=False)

    def stage(self, number: int) -> System:
        """Return the car with the fuel at a stage of evaporation.

        Parameters
        ----------
        number : int
            Number in `WEATHERED`.
        """
        if number == 0:
            return self.fresh
        if number not in self._stages:
            self._stages[number] = System(self.fresh.car, self.fresh.layout, self.fuel.weathered[number])
        return self._stages[number]

    def at(self, evaporated: PointArray) -> System:
        """Return the car with the fuel of each of some moments.

        Parameters
        ----------
        evaporated : array (points,)
            Mass fractions evaporated.
        """
        fuel = self.fuel.at(evaporated)
        return self.fresh if fuel is self.fuel.fuel else System(self.fresh.car, self.fresh.layout, fuel)
