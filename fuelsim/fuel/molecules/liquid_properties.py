"""Properties of the liquid from its composition: mixing rules over the species table, for arrays.

Every function takes a `Species`, mole fractions ``(species, points or 1)`` and temperatures ``(points,)`` in K, and
returns ``(points,)`` in SI. Pressure is neglected: from 0.1 to 1 MPa petrol gains 0.1 % in density, 1 % in viscosity.
"""

from __future__ import annotations

import numpy as np

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

# Interaction of alcohols with hydrocarbons in ln(viscosity), times the product of their mole fractions: the weak
# hydrogen-bond network of a dilute alcohol thins the blend. From memory: ethanol-isooctane near x = 0.5 at 25 degC
# has about 0.58 mPa s where the logarithmic mean says 0.72.
ALCOHOL_VISCOSITY_INTERACTION = -0.85


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
    Source: Grunberg & Nissan, Nature 164 (1949) 799; the interaction as stated at its constant.

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
    """Return the heat to evaporate the whole liquid at one temperature, J/kg: mole-weighted, no heat of mixing. +-5 %.

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
    Source: Weinaug & Katz, Ind. Eng. Chem. 35 (1943) 239; the density of the vapour is neglected.

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

    Source: API MPMS 11.2.1M.

    Examples
    --------
    >>> (1e-6 / petroleum_compressibility(740.0, np.array([273.15, 313.15]))).round(0).tolist()
    [1031.0, 751.0]
    """
    celsius, square = temperature - 273.15, np.square(density_at_15)
    compressibility: PointArray = 1e-9 * np.exp(
        -1.62080 + 2.1592e-4 * celsius + 0.87096e6 / square + 4.2092e3 * celsius / square
    )
    return compressibility


def bulk_modulus(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the isothermal bulk modulus, Pa. +-7 % to 90 degC, +-15 % to 120 degC.

    The compressibility is `petroleum_compressibility` of the hydrocarbons together, and that of each alcohol and ether,
    weighted by volume.

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

    Adding the compressibilities of pure hydrocarbons instead gives a modulus 13 to 18 % lower at 0 to 40 degC. A fit
    to whole petrols, the correlation does not hold for a pure species: against CoolProp at 60 degF n-pentane comes out
    8 % low and toluene 27 % high.

    Examples
    --------
    A mixture of petrol's density against the correlation itself:

    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half, at_20 = species().take(("isooctane", "toluene")), np.full((2, 1), 0.5), np.array([293.15])
    >>> law = 1.0 / petroleum_compressibility(density(two, half, np.array([288.15])), at_20)
    >>> bool(abs(bulk_modulus(two, half, at_20)[0] / law[0] - 1.0) < 1e-6)
    True
    """
    reference = np.full(1, 288.15)
    oxygenate = species.is_family("alcohol", "ether")
    volume = species.molar_volume(reference) * x
    hydrocarbon_mass = (species.molar_mass * ~oxygenate) @ x
    hydrocarbon_volume = volume[~oxygenate].sum(axis=0)
    share = _volume_fractions(species, x, temperature)
    compressibility = (share * species.compressibility(temperature))[oxygenate].sum(axis=0)
    if not oxygenate.all():
        rho = hydrocarbon_mass / np.maximum(hydrocarbon_volume, 1e-30)
        compressibility = compressibility + share[~oxygenate].sum(axis=0) * petroleum_compressibility(
            np.clip(rho, 600.0, 1100.0), temperature
        )
    modulus: PointArray = 1.0 / compressibility
    return modulus


def isentropic_bulk_modulus(species: Species, x: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the isentropic bulk modulus, Pa: the isothermal one times cp/cv, with cp - cv = T V alpha^2 K (exact).

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
    """Return the speed of sound in the unconfined liquid, m/s. +-4 % to 80 degC.

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
