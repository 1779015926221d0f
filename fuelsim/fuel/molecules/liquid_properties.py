"""Properties of the liquid from its composition: mixing rules over the species table, for arrays.

Every function takes a `Species`, mole fractions ``(species, points or 1)`` and temperatures ``(points,)`` in K, and
returns ``(points,)`` in SI. Pressure is neglected: from 0.1 to 1 MPa petrol gains 0.1 % in density, 1 % in viscosity.
"""

from __future__ import annotations

import numpy as np

from fuelsim.constants import ZERO_CELSIUS
from fuelsim.fuel.molecules.species import Species
from fuelsim.typing import FloatLike, PointArray, SpeciesArray

__all__ = [
    "bulk_modulus",
    "conductivity",
    "density",
    "expansion_coefficient",
    "heat_capacity",
    "heat_of_vaporisation",
    "isentropic_bulk_modulus",
    "molar_mass",
    "molar_volume",
    "petroleum_compressibility",
    "sound_speed",
    "surface_tension",
    "viscosity",
]

ALCOHOL_VISCOSITY_INTERACTION = -0.85
"""Interaction of alcohols with hydrocarbons in ln(viscosity), times the product of their mole fractions.

A dilute alcohol has few hydrogen bonds, so the blend is thinner than the logarithmic mean. Ethanol with isooctane near
x = 0.5 at 25 degC has about 0.58 mPa s, where the logarithmic mean is 0.72 [memory]; high-ethanol fuel of 1.3 mm2/s
[fuel_page_e85] supports the interaction at high shares, middle shares are unproved.
"""


def molar_mass(species: Species, x: SpeciesArray) -> PointArray:
    """Return the molar mass, kg/mol.

    Parameters
    ----------
    species : Species
    x : array (species, points)
        Mole fractions.

    Returns
    -------
    array (points,)

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> round(float(molar_mass(species().take(("ethanol",)), np.ones((1, 1)))[0]), 5)
    0.04607
    """
    mass: PointArray = species.molar_mass @ x
    return mass


def _mass_fractions(species: Species, x: SpeciesArray) -> SpeciesArray:
    fractions: SpeciesArray = species.molar_mass[:, None] * x / molar_mass(species, x)
    return fractions


def _volume_fractions(species: Species, x: SpeciesArray, temperature: PointArray) -> SpeciesArray:
    volume = species.molar_volume(temperature) * x
    fractions: SpeciesArray = volume / volume.sum(axis=0)
    return fractions


def molar_volume(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the molar volume of the liquid, m3/mol: the volumes of the species add. +-0.5 %.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    n-Heptane (CoolProp 146.6 cm3/mol):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure, at_20 = species().take(("n-heptane",)), np.ones((1, 1)), np.array([293.15])
    >>> round(1e6 * float(molar_volume(heptane, pure, at_20)[0]), 1)
    146.6
    """
    volume: PointArray = (species.molar_volume(temperature) * x).sum(axis=0)
    return volume


def density(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the density, kg/m3: ideal mixing of volumes. +-0.5 % to 60 degC, +-1 % to 120 degC.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    n-Heptane (CoolProp 683.7):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure, at_20 = species().take(("n-heptane",)), np.ones((1, 1)), np.array([293.15])
    >>> bool(abs(density(heptane, pure, at_20)[0] - 683.7) < 1.0)
    True
    """
    return molar_mass(species, x) / molar_volume(species, x, temperature)


def expansion_coefficient(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the thermal expansion of volume, 1/K, by central difference over 1 K.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    Ethanol (CoolProp 1.08e-3):

    >>> from fuelsim.fuel.molecules.species import species
    >>> ethanol, pure, at_20 = species().take(("ethanol",)), np.ones((1, 1)), np.array([293.15])
    >>> round(1e3 * float(expansion_coefficient(ethanol, pure, at_20)[0]), 2)
    1.09
    """
    high, low = molar_volume(species, x, temperature + 0.5), molar_volume(species, x, temperature - 0.5)
    coefficient: PointArray = np.log(high / low)
    return coefficient


def viscosity(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the dynamic viscosity, Pa s. +-10 %.

    Logarithms are weighted by moles (Arrhenius), with an interaction of alcohols.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Notes
    -----
    Source: [grunberg_nissan_1949]; the interaction as stated at its constant.

    Examples
    --------
    n-Heptane (CoolProp 0.412 mPa s):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure, at_20 = species().take(("n-heptane",)), np.ones((1, 1)), np.array([293.15])
    >>> bool(abs(1e3 * viscosity(heptane, pure, at_20)[0] - 0.412) < 0.01)
    True
    """
    alcohol = species.is_family("alcohol").astype(float) @ x
    log_mean = (species.log_viscosity(temperature) * x).sum(axis=0)
    mixture: PointArray = np.exp(log_mean + ALCOHOL_VISCOSITY_INTERACTION * alcohol * (1.0 - alcohol))
    return mixture


def heat_capacity(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the heat capacity of the liquid, J/kg/K: mole-weighted, no excess. +-3 % petrol, +-5 % with alcohol.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    n-Heptane (CoolProp 2222):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure, at_20 = species().take(("n-heptane",)), np.ones((1, 1)), np.array([293.15])
    >>> round(float(heat_capacity(heptane, pure, at_20)[0]), -1)
    2220.0
    """
    capacity: PointArray = (species.heat_capacity(temperature) * x).sum(axis=0) / molar_mass(species, x)
    return capacity


def conductivity(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the thermal conductivity of the liquid, W/m/K: mass-weighted. +-8 %.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    n-Heptane (CoolProp 0.1236):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure, at_20 = species().take(("n-heptane",)), np.ones((1, 1)), np.array([293.15])
    >>> round(float(conductivity(heptane, pure, at_20)[0]), 3)
    0.123
    """
    mean: PointArray = (_mass_fractions(species, x) * species.conductivity(temperature)).sum(axis=0)
    return mean


def heat_of_vaporisation(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the heat of vaporisation of the whole liquid at one temperature, J/kg: 0 to 12 % high for a petrol.

    Heats of the pure species, right to 2 %, are weighted by moles; the heat of mixing is neglected.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Notes
    -----
    Published means of whole petrols are 349 kJ/kg at 60 degF [doe_fuel_properties], 325 to 375 [nrel_1242469], and
    (110.9 - 0.09 t[degF])/d Btu/lb at specific gravity d, 329 kJ/kg at 25 degC for 735 kg/m3 [nbs_97]; ours are 374
    and 368. The palette holds a third of aromatics, of 394 to 413 kJ/kg, probably more than the petrols of those
    tables; of eight petrols measured at 40 degC only an aromatic one left the straight line in density [jessup_1935].
    The heat of mixing, by UNIFAC 1 kJ/kg of petrol and 9 with 10 vol% of ethanol, has the same sign and explains
    little. The species that evaporate first, C4 and C5, are little affected.

    Examples
    --------
    Ethanol at 60 degF (US DOE property table, 921 kJ/kg):

    >>> from fuelsim.fuel.molecules.species import species
    >>> ethanol, pure, at_20 = species().take(("ethanol",)), np.ones((1, 1)), np.array([293.15])
    >>> bool(abs(heat_of_vaporisation(ethanol, pure, np.array([288.71]))[0] / 921e3 - 1.0) < 0.02)
    True
    """
    heat: PointArray = (species.heat_of_vaporisation(temperature) * x).sum(axis=0) / molar_mass(species, x)
    return heat


def surface_tension(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the surface tension, N/m. +-10 %.

    Parachors are weighted by moles and volumes mix ideally (Macleod-Sugden).

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Notes
    -----
    Source: [weinaug_katz_1943]; the density of the vapour is neglected.

    Examples
    --------
    n-Heptane (CoolProp 20.2 mN/m):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane, pure, at_20 = species().take(("n-heptane",)), np.ones((1, 1)), np.array([293.15])
    >>> round(1e3 * float(surface_tension(heptane, pure, at_20)[0]), 1)
    20.2
    """
    parachor = species.surface_tension(temperature) ** 0.25 * species.molar_volume(temperature)
    tension: PointArray = ((parachor * x).sum(axis=0) / molar_volume(species, x, temperature)) ** 4
    return tension


def petroleum_compressibility(density_at_15: FloatLike, temperature: PointArray) -> PointArray:
    """Return the isothermal compressibility of petrol and other petroleum liquids, 1/Pa.

    Parameters
    ----------
    density_at_15 : float or array (points,)
        kg/m3, 638 to 1074.
    temperature : array (points,)
        K, 243 to 363.

    Notes
    -----
    F[1e-6/kPa] = exp(-1.62080 + 2.1592e-4 t + 0.87096e6/d^2 + 4.2092e3 t/d^2), t in degC, fitted to measured petrols,
    distillates and crude oils.

    Source: [api_mpms_11_2_1m]. `bulk_modulus` says why the library does not use it for petrols.

    Examples
    --------
    >>> (1e-6 / petroleum_compressibility(740.0, np.array([273.15, 313.15]))).round(0).tolist()
    [1031.0, 751.0]
    """
    celsius, square = temperature - ZERO_CELSIUS, np.square(density_at_15)
    compressibility: PointArray = 1e-9 * np.exp(
        -1.62080 + 2.1592e-4 * celsius + 0.87096e6 / square + 4.2092e3 * celsius / square
    )
    return compressibility


def bulk_modulus(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the isothermal bulk modulus, Pa. +-8 % to 40 degC, -8 to +15 % at 90 degC.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Notes
    -----
    K = (dp/dT)_V/alpha. Volumes of the species add, so alpha is the mean of theirs by volume; thermal pressure
    coefficients (dp/dT)_V = alpha_i K_i are taken to add by volume too. Against the mixture model of CoolProp this is
    within 2 % for alkanes with up to 30 mol% of butane, and for n-heptane with toluene, at 0 and 20 degC. It is 2 to
    15 % low at 90 degC, where alpha of pure liquid butane is too large. Adding compressibilities by volume instead is
    up to 5 % low at 20 degC, and 6 to 29 % at 90 degC. Species that CoolProp lacks, half the volume of a petrol of the
    palette, have the compressibility of `species_sources.compressibility_from_cohesion`, to +-6 %.

    `petroleum_compressibility`, a law of density alone, is not used: against pure species of CoolProp it is up to 14 %
    low for n-alkanes and up to 27 % high for cyclohexane and aromatics, so it overstates a blend whose density is that
    of light alkanes with aromatics: by 15 to 21 % for petrols of 720 to 760 kg/m3 at 20 degC.

    Examples
    --------
    n-Heptane with toluene, half the moles each: 872 MPa by the mixture model of CoolProp.

    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half, at_20 = species().take(("n-heptane", "toluene")), np.full((2, 1), 0.5), np.array([293.15])
    >>> bool(abs(bulk_modulus(two, half, at_20)[0] / 872e6 - 1.0) < 0.01)
    True
    """
    share = _volume_fractions(species, x, temperature)
    expansion = np.log(species.molar_volume(temperature + 0.5) / species.molar_volume(temperature - 0.5))
    thermal_pressure_coefficient = (share * expansion / species.compressibility(temperature)).sum(axis=0)
    modulus: PointArray = thermal_pressure_coefficient / (share * expansion).sum(axis=0)
    return modulus


def isentropic_bulk_modulus(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the isentropic bulk modulus, Pa: the isothermal one times cp/cv, with cp - cv = T V alpha^2 K.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    Ethanol (CoolProp 1.058 GPa, from its speed of sound):

    >>> from fuelsim.fuel.molecules.species import species
    >>> ethanol, pure, at_20 = species().take(("ethanol",)), np.ones((1, 1)), np.array([293.15])
    >>> bool(abs(isentropic_bulk_modulus(ethanol, pure, at_20)[0] / 1.058e9 - 1.0) < 0.02)
    True
    """
    isothermal = bulk_modulus(species, x, temperature)
    alpha = expansion_coefficient(species, x, temperature)
    capacity = heat_capacity(species, x, temperature) * density(species, x, temperature)
    ratio = 1.0 / (1.0 - np.minimum(temperature * alpha**2 * isothermal / capacity, 0.5))
    modulus: PointArray = isothermal * ratio
    return modulus


def sound_speed(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the speed of sound in the unconfined liquid, m/s. +-4 % to 40 degC, -4 to +8 % at 90 degC.

    Parameters
    ----------
    species : Species
    x : array (species, points or 1)
        Mole fractions.
    temperature : array (points,)
        K.

    Returns
    -------
    array (points,)

    Examples
    --------
    Ethanol (CoolProp 1158 m/s):

    >>> from fuelsim.fuel.molecules.species import species
    >>> ethanol, pure, at_20 = species().take(("ethanol",)), np.ones((1, 1)), np.array([293.15])
    >>> bool(abs(sound_speed(ethanol, pure, at_20)[0] / 1158.0 - 1.0) < 0.01)
    True
    """
    speed: PointArray = np.sqrt(isentropic_bulk_modulus(species, x, temperature) / density(species, x, temperature))
    return speed
