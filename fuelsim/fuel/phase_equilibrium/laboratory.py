"""Standard laboratory tests: vapour pressures and vapour-liquid temperatures by their methods.

Functions of arrays: a `Mixture` without air and mole fractions ``(species, points)``; each point is one fuel.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fuelsim.constants import GAS_CONSTANT, STANDARD_ATMOSPHERE, ZERO_CELSIUS
from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.typing import FloatLike, PointArray, SpeciesArray

__all__ = [
    "REID_TEMPERATURE",
    "air_saturated",
    "chamber_pressure",
    "density_at_15",
    "dry_vapour_pressure_equivalent",
    "vapour_liquid_temperature",
]

REID_TEMPERATURE = ZERO_CELSIUS + 100.0 / 1.8 - 32.0 / 1.8
"""Temperature of the vapour pressure tests, 100 degF in K."""
CHILLED = ZERO_CELSIUS
"""Temperature at which samples are air-saturated and measured out, K: 0 to 1 degC in the methods."""


def _sample_volume(mixture: Mixture, x: SpeciesArray) -> PointArray:
    """Return the volume of the chilled sample, m3/mol."""
    volume: PointArray = (mixture.species.molar_volume(np.array([CHILLED])) * x).sum(axis=0)
    return volume


def density_at_15(mixture: Mixture, x: SpeciesArray) -> PointArray:
    """Return the density at 15 degC, kg/m3, of each composition.

    Parameters
    ----------
    mixture : Mixture
    x : array (species, points)
        Mole fractions.

    Returns
    -------
    array (points,)

    Examples
    --------
    Ethanol (CoolProp 793.6):

    >>> from fuelsim.fuel.molecules.species import species
    >>> bool(abs(density_at_15(Mixture(species().take(("ethanol",))), np.ones((1, 1)))[0] - 793.6) < 1.0)
    True
    """
    volume = mixture.species.volume_at_15 @ x
    density: PointArray = (mixture.species.molar_mass @ x) / volume
    return density


def air_saturated(
    mixture: Mixture,
    x: SpeciesArray,
    temperature: FloatLike = CHILLED,
    pressure: FloatLike = STANDARD_ATMOSPHERE,
) -> tuple[Mixture, SpeciesArray]:
    """Return the mixture with dissolved air and its composition: saturated at a temperature and total pressure.

    Parameters
    ----------
    mixture : Mixture
        Without air.
    x : array (species, points)
        Mole fractions of the air-free fuel.
    temperature : float or array (points,)
        Temperature of saturation, K.
    pressure : float or array (points,)
        Total pressure of saturation, Pa absolute.

    Returns
    -------
    Mixture
    array (species + 1, points)
        Moles per mole of air-free fuel, air last: they sum to slightly more than one.

    Examples
    --------
    Isooctane dissolves about a thousandth of its moles by ASTM D2779 (L = 0.18 at 0 degC):

    >>> from fuelsim.fuel.molecules.species import species
    >>> _, moles = air_saturated(Mixture(species().take(("isooctane",))), np.ones((1, 1)))
    >>> bool(1e-3 < moles[1, 0] < 2e-3)
    True
    """
    t = np.broadcast_to(np.asarray(temperature, dtype=float), x.shape[1:]).copy()
    bubble = flashes.saturation_pressure(mixture, x, t).pressure
    rho = density_at_15(mixture, x)
    volume = (mixture.species.molar_volume(t) * x).sum(axis=0)
    air = ostwald_coefficient(t, rho) * np.maximum(pressure - bubble, 0.0) * volume / (GAS_CONSTANT * t)
    return replace(mixture, air=True, density_at_15=float(rho.mean())), np.concatenate([x, air[None]])


def chamber_pressure(
    mixture: Mixture, x: SpeciesArray, temperature: FloatLike, vapour_parts: float, *, with_air: bool = True
) -> PointArray:
    """Return the pressure of a chilled sample warmed in an evacuated chamber.

    Parameters
    ----------
    mixture : Mixture
    x : array (species, points)
        Air-free mole fractions.
    temperature : float or array (points,)
        Temperature of the warm chamber, K.
    vapour_parts : float
        Vapour space per volume of chilled sample: 4 for ASTM D5191 and EN 13016-1, 1.5 for EN 13016-2.
    with_air : bool
        Whether the sample was saturated with air at 0 degC, as the methods require.

    Returns
    -------
    array (points,)
        Total pressure, Pa absolute.

    Examples
    --------
    Without air a pure fuel shows its vapour pressure whatever the space (n-pentane: CoolProp 107.5 kPa):

    >>> from fuelsim.fuel.molecules.species import species
    >>> pentane = Mixture(species().take(("n-pentane",)))
    >>> round(float(chamber_pressure(pentane, np.ones((1, 1)), 310.93, 4.0, with_air=False)[0]) / 1e3)
    107
    """
    t = np.broadcast_to(np.asarray(temperature, dtype=float), x.shape[1:]).copy()
    chamber = (1.0 + vapour_parts) * _sample_volume(mixture, x)
    feed, moles = x, np.ones(x.shape[1])
    if with_air:
        mixture, feed = air_saturated(mixture, x)
        moles = feed.sum(axis=0)
    result = flashes.flash_to_volume(mixture, feed / moles, t, total_volume=chamber / moles)
    return np.where(result.solved, result.pressure, np.nan)


def dry_vapour_pressure_equivalent(mixture: Mixture, x: SpeciesArray) -> PointArray:
    """Return the dry vapour pressure equivalent of each composition: 0.965 X - 3.78 kPa.

    X is the total pressure of an air-saturated sample at 37.8 degC and a vapour-liquid ratio of 4.

    Parameters
    ----------
    mixture : Mixture
    x : array (species, points)
        Air-free mole fractions.

    Returns
    -------
    array (points,)
        Pa absolute.

    Notes
    -----
    Source: [astm_d5191].

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> isooctane, pure = Mixture(species().take(("isooctane",))), np.ones((1, 1))
    >>> total = chamber_pressure(isooctane, pure, REID_TEMPERATURE, 4.0)
    >>> bool(abs(dry_vapour_pressure_equivalent(isooctane, pure) - (0.965 * total - 3780.0)) < 1e-6)
    True
    """
    total = chamber_pressure(mixture, x, REID_TEMPERATURE, 4.0)
    return 0.965 * total - 3780.0


def vapour_liquid_temperature(
    mixture: Mixture, x: SpeciesArray, ratio: float, pressure: FloatLike, *, with_air: bool = False
) -> PointArray:
    """Return the temperature at which vapour has `ratio` times the volume of the sample at 0 degC (ASTM D5188).

    Parameters
    ----------
    mixture : Mixture
    x : array (species, points)
        Air-free mole fractions.
    ratio : float
        Volume of vapour per volume of the sample at 0 degC.
    pressure : float or array (points,)
        Pa absolute.
    with_air : bool
        Whether the sample was saturated with air at 0 degC, as the method requires.

    Returns
    -------
    array (points,)
        K; NaN where there is none.

    Examples
    --------
    A pure fuel has one, its boiling point, for every ratio (n-heptane 98.4 degC, CoolProp):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure = Mixture(species().take(("n-heptane",))), np.ones((1, 1))
    >>> [round(float(vapour_liquid_temperature(heptane, pure, n, 101325.0)[0]) - 273.15, 1) for n in (8.0, 75.0)]
    [98.4, 98.4]
    """
    p = np.broadcast_to(np.asarray(pressure, dtype=float), x.shape[1:]).copy()
    volume = ratio * _sample_volume(mixture, x)
    feed, moles = x, np.ones(x.shape[1])
    if with_air:
        mixture, feed = air_saturated(mixture, x)
        moles = feed.sum(axis=0)
    result = flashes.temperature_at_vapour_volume(mixture, feed / moles, p, volume / moles)
    return np.where(result.solved, result.temperature, np.nan)
