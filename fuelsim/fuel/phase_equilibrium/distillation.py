"""Simulated distillation after ASTM D86: a boiling pot, and a still head that condenses part of the rising vapour.

The pot holds liquid at its bubble point. A fixed fraction of the vapour condenses in the head and runs back, the rest
distils over; the thermometer reads the head. That fraction, `REFLUX`, is one number for all fuels, chosen once: the
T(V/L=20) of six petrols of 48 to 90 kPa agrees with the linear estimate of ASTM D4814 from their T10 and T50 to
0.5-0.7 K rms for any fraction from 0.10 to 0.15 (least squares 0.12); of these 0.15 brings the initial boiling point
nearest to practice. The test of that estimate is therefore a test of consistency, not an independent one.

Accuracy: T10 to T90 +-5 K; the initial boiling point is a few kelvin high, because a real head is cold at first.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.typing import ArrayLike, FloatArray, FloatLike, PointArray, SpeciesArray

__all__ = ["EVAPORATED", "REFLUX", "Distillation", "distil"]

REFLUX = 0.15
"""Fraction of the rising vapour, by moles, that condenses in the head."""
TOLERANCE = 1e-4
"""Tolerance of the equilibria; 0.2 mK in the curve."""
EVAPORATED: FloatArray = np.concatenate(
    [[0.0, 0.02, 0.05, 0.10, 0.15], np.arange(0.20, 0.81, 0.05), [0.84, 0.87, 0.90, 0.925, 0.95, 0.97, 0.98]]
)
"""Volume fractions evaporated at which a whole curve is read."""


@dataclass(frozen=True, eq=False)
class Distillation:
    """A distillation curve.

    Attributes
    ----------
    evaporated : array (steps,)
        Volume fraction of the charge that has distilled over, as liquid at 15 degC; rises from 0 to 0.98.
    temperature : array (steps,)
        Temperature of the still head, K.
    """

    evaporated: FloatArray
    temperature: FloatArray

    def temperature_at(self, fraction: ArrayLike) -> FloatLike:
        """Temperature, K, at which a volume fraction has evaporated: ``temperature_at(0.10)`` is T10.

        Parameters
        ----------
        fraction : float or array
            Volume fraction evaporated.

        Returns
        -------
        float or array
            In the shape of the fraction.

        Raises
        ------
        InputError
            Outside 0 to the last point of the curve, 0.98 for a whole one.

        Examples
        --------
        >>> curve = Distillation(np.array([0.0, 0.1, 0.5]), np.array([308.0, 326.0, 374.0]))
        >>> curve.temperature_at(0.3)
        350.0
        """
        wanted = np.asarray(fraction, dtype=float)
        if np.any((wanted < 0.0) | (wanted > self.evaporated[-1])):
            raise InputError(
                "outside the distillation curve", given=fraction, accepted=f"0 to {self.evaporated[-1]:.2f} evaporated"
            )
        temperature = np.interp(wanted, self.evaporated, self.temperature)
        return float(temperature) if wanted.ndim == 0 else temperature

    def evaporated_at(self, temperature: ArrayLike) -> FloatLike:
        """Volume fraction evaporated at a temperature in K: ``evaporated_at(343.15)`` is E70.

        Parameters
        ----------
        temperature : float or array
            K; the ends of the curve hold beyond them.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Examples
        --------
        >>> curve = Distillation(np.array([0.0, 0.1, 0.5]), np.array([308.0, 326.0, 374.0]))
        >>> round(curve.evaporated_at(350.0), 6)
        0.3
        """
        wanted = np.asarray(temperature, dtype=float)
        fraction = np.interp(wanted, self.temperature, self.evaporated)
        return float(fraction) if wanted.ndim == 0 else fraction

    @property
    def initial_boiling_point(self) -> float:
        """Temperature of the head when the first drop distils over, K."""
        return float(self.temperature[0])

    @property
    def end_point(self) -> float:
        """Temperature at 98 % evaporated, K; the test reads the highest temperature."""
        return float(self.temperature[-1])

    @property
    def slope_at_10_percent(self) -> float:
        """Slope S of [ap_42_7_1]: (T15 - T5)/10, in degF per vol%."""
        return 1.8 * float(self.temperature_at(0.15) - self.temperature_at(0.05)) / 10.0


def distil(
    mixture: Mixture,
    x: SpeciesArray,
    *,
    reflux: float = REFLUX,
    pressure: float = STANDARD_ATMOSPHERE,
    evaporated: FloatArray = EVAPORATED,
) -> FloatArray:
    """Return the temperatures of the still head while fuels are distilled, all at once.

    Parameters
    ----------
    mixture : Mixture
        Without air.
    x : array (species, fuels)
        Mole fractions.
    reflux : float
        Fraction of the rising vapour that condenses in the head.
    pressure : float
        Pressure in the still, Pa absolute.
    evaporated : array (steps,)
        Volume fractions at which to read, rising from zero.

    Returns
    -------
    array (steps, fuels)
        K.

    Examples
    --------
    A pure fuel distils at its boiling point, 98.4 degC for n-heptane (CoolProp):

    >>> from fuelsim.fuel.molecules.species import species
    >>> curve = distil(Mixture(species().take(("n-heptane",))), np.ones((1, 1)))
    >>> bool(abs(curve - 273.15 - 98.4).max() < 0.1)
    True
    """
    volume = mixture.species.volume_at_15
    moles: SpeciesArray = x / (volume @ x)  # per m3 of charge
    p = np.full(x.shape[1], pressure)
    pot_guess = head_guess = np.full(x.shape[1], 320.0)

    def overhead(pot: SpeciesArray) -> tuple[PointArray, SpeciesArray]:
        """Return the temperature of the head, and the distillate in moles of each species per m3."""
        nonlocal pot_guess, head_guess
        x = pot / pot.sum(axis=0)
        boiling = flashes.saturation_temperature(mixture, x, p, start=pot_guess, tolerance=TOLERANCE)
        pot_guess = boiling.temperature
        head = boiling
        if reflux > 0.0:
            rising = boiling.vapour / boiling.vapour.sum(axis=0)
            head = flashes.saturation_temperature(
                mixture, rising, p, 1.0 - reflux, start=head_guess, tolerance=TOLERANCE
            )
        head_guess = head.temperature
        return head.temperature, head.vapour / (volume @ head.vapour)

    temperatures = []
    for before, after in pairwise(evaporated):
        step = after - before
        temperature, distillate = overhead(moles)
        temperatures.append(temperature)
        # Each species decays exponentially at the rate of mid-step: volatile traces stay positive and stable.
        halfway = moles * np.exp(-0.5 * step * distillate / np.maximum(moles, 1e-30))
        _, distillate = overhead(halfway)
        moles = moles * np.exp(-step * distillate / np.maximum(halfway, 1e-30))
        moles = moles * (1.0 - after) / (volume @ moles)
    temperatures.append(overhead(moles)[0])
    rising: FloatArray = np.maximum.accumulate(np.array(temperatures), axis=0)
    return rising
