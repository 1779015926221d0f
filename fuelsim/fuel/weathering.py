"""Evaporation of a fuel that stands in a vented tank: the light ends leave first.

The vapour that leaves is in equilibrium with the well-mixed liquid. That is the fastest a fuel can change for a mass
lost; in a deep, unstirred tank the light ends of the bottom leave more slowly. Compositions are moles of each species.
"""

from __future__ import annotations

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.errors import InputError
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.typing import FloatArray, PointArray

__all__ = ["evaporated", "vented"]

LARGEST_STEP = 0.01
"""Mass that evaporates in one step, as a fraction of the mass that remains."""
LEAST_REMAINING = 0.02
"""Mass below which nothing more evaporates, as a fraction of the mass at the start."""
BOILING_STEP = 0.005
"""Mass that boils off in one step, as a fraction of the mass that remains."""


def _vapour(mixture: Mixture, moles: FloatArray, temperature: float) -> tuple[float, FloatArray]:
    """Return bubble pressure and vapour mole fractions over a liquid given as moles ``(species,)``."""
    x = (moles / moles.sum())[:, None]
    result = flashes.saturation_pressure(mixture, x, np.array([temperature]))
    return float(result.pressure[0]), result.vapour[:, 0]


def _removed(mixture: Mixture, moles: FloatArray, temperature: float, mass: float) -> FloatArray:
    """Return moles after a small mass has evaporated: exponential decay of each species at the rate of mid-step."""
    weight = mixture.species.molar_mass

    def rate(liquid: FloatArray) -> FloatArray:
        """Moles that leave per mole of liquid and mass evaporated, of each species, 1/kg."""
        _, y = _vapour(mixture, liquid, temperature)
        per_mass: FloatArray = y / (weight @ y) / np.maximum(liquid, 1e-30)
        return per_mass

    halfway = moles * np.exp(-0.5 * mass * rate(moles))
    remaining: FloatArray = moles * np.exp(-mass * rate(halfway))
    remaining *= (weight @ moles - mass) / (weight @ remaining)
    return remaining


def _evaporated_moles(mixture: Mixture, moles: FloatArray, mass: float, temperature: float) -> FloatArray:
    """Return moles after a mass has evaporated, in steps that are a small fraction of the mass that remains."""
    remaining = mass
    while remaining > 0.0:
        step = min(remaining, LARGEST_STEP * float(mixture.species.molar_mass @ moles))
        moles = _removed(mixture, moles, temperature, step)
        remaining -= step
    return moles


def evaporated(mixture: Mixture, fractions: FloatArray, mass_loss: float, temperature: float) -> FloatArray:
    """Return mole fractions of the fuel that remains after a mass loss at one temperature.

    Parameters
    ----------
    mixture : Mixture
    fractions : array (species,)
    mass_loss : float
        Fraction of the mass that evaporates, 0 to 0.98.
    temperature : float
        Temperature of liquid and vapour, K.

    Returns
    -------
    array (species,)

    Raises
    ------
    InputError
        For a loss outside 0 to 0.98.

    Examples
    --------
    From n-pentane with n-octane mostly pentane evaporates:

    >>> from fuelsim.fuel.molecules.species import species
    >>> remaining = evaporated(Mixture(species().take(("n-pentane", "n-octane"))), np.array([0.5, 0.5]), 0.2, 298.15)
    >>> bool(remaining[0] < 0.35), round(float(remaining.sum()), 9)
    (True, 1.0)
    """
    if not 0.0 <= mass_loss <= 1.0 - LEAST_REMAINING:
        raise InputError("not a mass loss", given=mass_loss, accepted=f"0 to {1.0 - LEAST_REMAINING}", key="mass_loss")
    total = float(mixture.species.molar_mass @ fractions)
    moles = _evaporated_moles(mixture, fractions, mass_loss * total, temperature)
    remaining: FloatArray = moles / moles.sum()
    return remaining


def vented(
    mixture: Mixture, fractions: FloatArray, temperatures: PointArray, vapour_space: float, pressure: float
) -> tuple[FloatArray, float]:
    """Return mole fractions of the fuel that remains after a temperature history in a vented tank, and its mass loss.

    Parameters
    ----------
    mixture : Mixture
    fractions : array (species,)
        Mole fractions of the fresh fuel.
    temperatures : array (steps,)
        Temperatures one after the other, K; the daily swing matters more than the mean.
    vapour_space : float
        Volume of the vapour space per volume of liquid at the start.
    pressure : float
        Atmospheric pressure, Pa absolute.

    Returns
    -------
    array (species,), float

    Notes
    -----
    Warming expels air with the vapour mixed into it; cooling draws fresh air in, and condensation from that is
    neglected. Fuel that reaches its bubble point boils until its bubble pressure has fallen to the atmosphere's.

    Examples
    --------
    No vapour leaves without warming:

    >>> from fuelsim.fuel.molecules.species import species
    >>> two = Mixture(species().take(("n-pentane", "n-octane")))
    >>> vented(two, np.array([0.2, 0.8]), np.array([300.0, 295.0]), 1.0, 101325.0)[1] == 0.0
    True
    """
    volume = mixture.species.volume_at_15
    moles = fractions / (volume @ fractions)  # per m3 of liquid
    weight = mixture.species.molar_mass
    start = float(weight @ moles)
    previous = float(temperatures[0])
    for value in np.asarray(temperatures, dtype=float)[1:]:
        temperature = float(value)
        for _ in range(400):  # boiling
            pressure_now, y = _vapour(mixture, moles, temperature)
            if pressure_now <= pressure or weight @ moles < LEAST_REMAINING * start:
                break
            moles = _removed(mixture, moles, temperature, BOILING_STEP * float(weight @ moles))
        if temperature > previous:
            space = vapour_space + 1.0 - float(volume @ moles)
            pressure_before, _ = _vapour(mixture, moles, previous)
            middle = 0.5 * (temperature + previous)
            pressure_middle, y = _vapour(mixture, moles, middle)
            air = [max(pressure - p, 0.02 * pressure) for p in (pressure_before, pressure_middle, pressure_now)]
            driven = max(air[0] / previous - air[2] / temperature, 0.0) * space / GAS_CONSTANT
            lost = driven * pressure_middle / air[1] * float(weight @ y)
            moles = _evaporated_moles(mixture, moles, min(lost, 0.5 * float(weight @ moles)), middle)
        previous = temperature
    return moles / moles.sum(), 1.0 - float(weight @ moles) / start
