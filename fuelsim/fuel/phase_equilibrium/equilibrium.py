"""States of a flash and its results: the equilibrium of liquid and vapour at many points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.typing import BoolArray, PointArray, SpeciesArray

__all__ = [
    "HIGHEST_LOG_PRESSURE",
    "HIGHEST_TEMPERATURE",
    "LOWEST_LOG_PRESSURE",
    "LOWEST_TEMPERATURE",
    "Equilibrium",
    "FlashState",
]

LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE = 180.0, 520.0  # K, bounds of the iterates
LOWEST_LOG_PRESSURE, HIGHEST_LOG_PRESSURE = float(np.log(1e-3)), float(np.log(2e7))  # of Pa, bounds of the iterates


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """Liquid and vapour in equilibrium at each point.

    Attributes
    ----------
    temperature, pressure : array (points,)
        Temperature, K, and pressure, Pa absolute.
    vapour_fraction : array (points,)
        Moles of vapour per mole of feed, 0 to 1.
    liquid, vapour : array (species, points)
        Mole fractions of the two phases; where there is only one, those of the incipient other.
    liquid_volume, vapour_volume : array (points,)
        Molar volumes of the two phases, m3/mol.
    converged : array (points,) of bool
        Whether the iteration met its tolerance.
    iterations : int
        Iterations until the last point of the batch converged.
    """

    temperature: PointArray
    pressure: PointArray
    vapour_fraction: PointArray
    liquid: SpeciesArray
    vapour: SpeciesArray
    liquid_volume: PointArray
    vapour_volume: PointArray
    converged: BoolArray
    iterations: int

    @property
    def solved(self) -> BoolArray:
        """Whether each point has converged inside the range of the species correlations, ``(points,)`` of bool."""
        inside = (self.temperature > LOWEST_TEMPERATURE) & (self.temperature < HIGHEST_TEMPERATURE)
        log_p = np.log(self.pressure)
        solved: BoolArray = self.converged & inside & (log_p > LOWEST_LOG_PRESSURE) & (log_p < HIGHEST_LOG_PRESSURE)
        return solved

    def reason(self, point: int) -> str:
        """Return a sentence that says why a point has no answer; empty text where it has one.

        Parameters
        ----------
        point : int
            Position in the arrays.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> Fuel.named("summer_e10").flash("60 degC", "1 atm").reason(0)
        ''
        """
        if self.solved[point]:
            return ""
        if self.converged[point] or self.temperature[point] in (LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE):
            return (
                f"the answer lies outside {LOWEST_TEMPERATURE:.0f} to {HIGHEST_TEMPERATURE:.0f} K, "
                "the range of the species table"
            )
        return (
            f"the equilibrium did not converge in {self.iterations} iterations: the liquid is close to splitting in "
            "two (alcohol with paraffins in the cold), or the vapour is too dense for a second virial coefficient"
        )

    @property
    def vapour_liquid_ratio(self) -> PointArray:
        """Volume of vapour per volume of liquid that remains, ``(points,)``; infinite where no liquid remains."""
        with np.errstate(divide="ignore"):
            ratio: PointArray = (
                self.vapour_fraction * self.vapour_volume / ((1.0 - self.vapour_fraction) * self.liquid_volume)
            )
        return ratio


class FlashState(NamedTuple):
    """The three quantities of which a flash holds some and seeks the others.

    Attributes
    ----------
    temperature : array (points,)
        K.
    pressure : array (points,)
        Pa absolute.
    vapour_fraction : array (points,)
        Moles of vapour per mole of feed.
    """

    temperature: PointArray
    pressure: PointArray
    vapour_fraction: PointArray

    def take(self, points: BoolArray) -> FlashState:
        """Return the state of some of the points.

        Parameters
        ----------
        points : array (points,) of bool

        Examples
        --------
        >>> two = FlashState(np.array([300.0, 310.0]), np.array([1e5, 2e5]), np.zeros(2))
        >>> two.take(np.array([False, True])).temperature.tolist()
        [310.0]
        """
        return FlashState(self.temperature[points], self.pressure[points], self.vapour_fraction[points])
