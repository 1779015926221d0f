"""What remains of a fuel that stands in a vented tank: the light ends leave first.

The vapour that leaves is in equilibrium with the well-mixed liquid. That is the fastest a fuel can change for a mass
lost; a deep, unstirred tank loses its light ends more slowly at the bottom.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fuel.molecules.species import GAS_CONSTANT
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture

if TYPE_CHECKING:
    from fuelsim.fuel.fuel import Fuel

__all__ = ["Weathering", "evaporated", "vented"]

LARGEST_STEP = 0.01  # mass fraction of what is left, in one step
LEAST_LEFT = 0.02  # of the mass


@dataclass(frozen=True)
class Weathering:
    """What a temperature history leaves of a fuel.

    Attributes
    ----------
    fuel : Fuel
        What remains.
    mass_lost : float
        Fraction of the mass.
    """

    fuel: Fuel
    mass_lost: float


def _vapour(mixture: Mixture, moles: np.ndarray, temperature: float) -> tuple[float, np.ndarray]:
    """Return bubble pressure and vapour mole fractions over a liquid given as moles ``(species,)``."""
    x = (moles / moles.sum())[:, None]
    result = flashes.saturation_pressure(mixture, x, np.array([temperature]))
    return float(result.pressure[0]), result.vapour[:, 0]


def _removed(mixture: Mixture, moles: np.ndarray, temperature: float, mass: float) -> np.ndarray:
    """Return moles after a small mass has evaporated: exponential decay of each species at the rate of mid-step."""
    weight = mixture.species.molar_mass

    def rate(liquid: np.ndarray) -> np.ndarray:
        _, y = _vapour(mixture, liquid, temperature)
        return y / (weight @ y) / np.maximum(liquid, 1e-30)

    wanted = weight @ moles - mass
    halfway = moles * np.exp(-0.5 * mass * rate(moles))
    left = moles * np.exp(-mass * rate(halfway))
    return left * wanted / (weight @ left)


def _evaporated_moles(mixture: Mixture, moles: np.ndarray, mass: float, temperature: float) -> np.ndarray:
    """Return moles after a mass has evaporated, in steps small against what is left."""
    remaining = mass
    while remaining > 0.0:
        step = min(remaining, LARGEST_STEP * float(mixture.species.molar_mass @ moles))
        moles = _removed(mixture, moles, temperature, step)
        remaining -= step
    return moles


def evaporated(mixture: Mixture, fractions: np.ndarray, mass_loss: float, temperature: float) -> np.ndarray:
    """Return mole fractions of what remains after a mass loss at one temperature.

    Parameters
    ----------
    mixture : Mixture
    fractions : array (species,)
    mass_loss : float
        Fraction of the mass that evaporates, 0 to 0.98.
    temperature : float
        K.

    Examples
    --------
    Of n-pentane and n-octane the pentane leaves first:

    >>> from fuelsim.fuel.molecules.species import species
    >>> left = evaporated(Mixture(species().take(("n-pentane", "n-octane"))), np.array([0.5, 0.5]), 0.2, 298.15)
    >>> bool(left[0] < 0.35), round(float(left.sum()), 9)
    (True, 1.0)
    """
    if not 0.0 <= mass_loss <= 1.0 - LEAST_LEFT:
        raise InputError("not a mass loss", given=mass_loss, accepted=f"0 to {1.0 - LEAST_LEFT}", key="mass_loss")
    total = float(mixture.species.molar_mass @ fractions)
    moles = _evaporated_moles(mixture, fractions, mass_loss * total, temperature)
    return moles / moles.sum()


def vented(
    mixture: Mixture, fractions: np.ndarray, temperatures: np.ndarray, vapour_space: float, pressure: float
) -> tuple[np.ndarray, float]:
    """Return mole fractions of what remains after a temperature history in a vented tank, and the mass fraction lost.

    Parameters
    ----------
    mixture : Mixture
    fractions : array (species,)
    temperatures : array (steps,)
        K, one after the other; the daily swing matters more than the mean.
    vapour_space : float
        Volume of the vapour space per volume of liquid at the start.
    pressure : float
        Of the atmosphere, Pa absolute.

    Notes
    -----
    Warming drives air out, which takes vapour along in the proportion it is mixed; cooling draws fresh air in, and what
    condenses is neglected. Fuel that reaches its bubble point boils until it no longer does.

    Examples
    --------
    Nothing leaves without warming:

    >>> from fuelsim.fuel.molecules.species import species
    >>> two = Mixture(species().take(("n-pentane", "n-octane")))
    >>> vented(two, np.array([0.2, 0.8]), np.array([300.0, 295.0]), 1.0, 101325.0)[1] == 0.0
    True
    """
    volume = mixture.species.molar_volume(np.array([288.15]))[:, 0]
    moles = fractions / (volume @ fractions)  # per m3 of liquid
    weight = mixture.species.molar_mass
    start = float(weight @ moles)
    previous = float(temperatures[0])
    for value in np.asarray(temperatures, dtype=float)[1:]:
        temperature = float(value)
        for _ in range(400):  # boiling
            pressure_now, y = _vapour(mixture, moles, temperature)
            if pressure_now <= pressure or weight @ moles < LEAST_LEFT * start:
                break
            moles = _removed(mixture, moles, temperature, 0.005 * float(weight @ moles))
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
