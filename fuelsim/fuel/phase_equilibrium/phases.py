"""The two phases of a blend and how each species divides between them: ln K from activity and vapour coefficients."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.fuel.molecules import unifac
from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient
from fuelsim.fuel.molecules.species import Species
from fuelsim.fuel.molecules.virial import LARGEST_CORRECTION, sqrt_virial
from fuelsim.typing import BoolArray, PointArray, SpeciesArray

__all__ = ["Mixture", "PhaseTerms", "heat_capacity", "heat_of_vaporisation", "liquid_enthalpy"]

AIR_HEAT_CAPACITY = 29.0  # J/mol/K


@dataclass(frozen=True, eq=False)
class Mixture:
    """Species that share a liquid and a vapour.

    Attributes
    ----------
    species : Species
    ideal_vapour : bool
        Whether the second virial coefficient is left out.
    air : bool
        Whether dissolved air is one more row, the last, of every composition.
    density_at_15 : float
        Density of the fuel at 15 degC, kg/m3; the solubility of air depends on it.
    """

    species: Species
    ideal_vapour: bool = False
    air: bool = False
    density_at_15: float = 740.0


class PhaseTerms(NamedTuple):
    """Quantities of the phase equilibrium that depend on temperature alone, at the temperatures of the points.

    Attributes
    ----------
    mixture : Mixture
    temperature : array (points,)
        K.
    thermal : array (points,)
        R T, J/mol.
    unifac : unifac.Terms
    volume : array (species, points)
        Molar volumes of the liquid species, m3/mol.
    sqrt_virial : array (species, points)
        sqrt(-B) of the pure vapours, (m3/mol)^0.5; zero for an ideal vapour.
    log_fugacity : array (species, points)
        ln of the fugacity of the pure liquid extrapolated to zero pressure, in Pa.
    poynting : array (species, points)
        Slope of the liquid's ln fugacity in pressure, V/RT, 1/Pa; zero for an ideal vapour.
    ostwald : array (points,) or None
        Ostwald coefficient of air; None where the mixture holds no air.
    """

    mixture: Mixture
    temperature: PointArray
    thermal: PointArray
    unifac: unifac.Terms
    volume: SpeciesArray
    sqrt_virial: SpeciesArray
    log_fugacity: SpeciesArray
    poynting: SpeciesArray
    ostwald: PointArray | None

    @classmethod
    def at(cls, mixture: Mixture, temperature: PointArray) -> PhaseTerms:
        """Form the terms of a mixture.

        Parameters
        ----------
        mixture : Mixture
        temperature : array (points,)
            K.

        Examples
        --------
        >>> from fuelsim.fuel.molecules.species import species
        >>> terms = PhaseTerms.at(Mixture(species().take(("n-pentane",))), np.array([310.93]))
        >>> round(float(terms.thermal[0]))
        2585
        """
        table = mixture.species
        thermal = GAS_CONSTANT * temperature
        volume = table.molar_volume(temperature)
        log_pressure = table.log_vapour_pressure(temperature)
        if mixture.ideal_vapour:
            g = poynting = np.zeros_like(volume)
            log_fugacity = log_pressure
        else:
            g = sqrt_virial(table, temperature)
            pure = np.exp(log_pressure)
            correction = np.minimum(g**2 * pure / thermal, LARGEST_CORRECTION)
            poynting = volume / thermal
            log_fugacity = log_pressure - correction - poynting * pure
        ostwald = ostwald_coefficient(temperature, mixture.density_at_15) if mixture.air else None
        activity = unifac.temperature_terms(table.unifac, temperature)
        return cls(mixture, temperature, thermal, activity, volume, g, log_fugacity, poynting, ostwald)

    def log_k(
        self, pressure: PointArray, log_activity: SpeciesArray, mean_sqrt_virial: PointArray, x: SpeciesArray
    ) -> SpeciesArray:
        """Return ln(y/x) of every row of the mixture.

        Parameters
        ----------
        pressure : array (points,)
            Pa absolute.
        log_activity : array (fuel species, points)
            From `log_activity`.
        mean_sqrt_virial : array (points,)
            From `mean_sqrt_virial`, of the vapour.
        x : array (species, points)
            Mole fractions of the liquid.

        Returns
        -------
        array (species, points)

        Examples
        --------
        At its vapour pressure, by CoolProp 107.5 kPa at 37.78 degC, n-pentane has K = 1:

        >>> from fuelsim.fuel.molecules.species import species
        >>> terms = PhaseTerms.at(Mixture(species().take(("n-pentane",))), np.array([310.93]))
        >>> pure = np.ones((1, 1))
        >>> bool(abs(terms.log_k(np.array([107.5e3]), 0.0 * pure, terms.mean_sqrt_virial(pure), pure)[0, 0]) < 5e-3)
        True
        """
        fuel = self.log_fugacity + log_activity
        if not self.mixture.ideal_vapour:
            square = mean_sqrt_virial**2
            with np.errstate(divide="ignore"):
                effective = np.minimum(pressure / self.thermal, LARGEST_CORRECTION / square)
            fuel = fuel + self.poynting * pressure + (2.0 * self.sqrt_virial * mean_sqrt_virial - square) * effective
        if self.ostwald is not None:
            volume = (self.volume * x[:-1]).sum(axis=0) / x[:-1].sum(axis=0)
            fuel = np.concatenate([fuel, np.log(self.thermal / (self.ostwald * volume))[None]])
        log_k: SpeciesArray = fuel - np.log(pressure)
        return log_k

    def _fuel(self, composition: SpeciesArray) -> SpeciesArray:
        """Return the rows of a composition without that of air."""
        return composition[:-1] if self.mixture.air else composition

    def log_activity(self, x: SpeciesArray) -> SpeciesArray:
        """Return ln of the activity coefficients of the fuel species.

        Parameters
        ----------
        x : array (species, points)
            Mole fractions of the liquid.

        Returns
        -------
        array (fuel species, points)

        Examples
        --------
        >>> from fuelsim.fuel.molecules.species import species
        >>> two = Mixture(species().take(("n-pentane", "n-octane")))
        >>> terms = PhaseTerms.at(two, np.array([310.93]))
        >>> bool(abs(terms.log_activity(np.full((2, 1), 0.5))).max() < 0.05)  # paraffins mix nearly ideally
        True
        """
        return unifac.log_activity(self.mixture.species.unifac, self.unifac, self._fuel(x))

    def mean_sqrt_virial(self, y: SpeciesArray) -> PointArray:
        """Return s = sum y sqrt(-B) of a vapour, (m3/mol)^0.5.

        Parameters
        ----------
        y : array (species, points)
            Amounts of the species in the vapour, in any unit.

        Returns
        -------
        array (points,)

        Examples
        --------
        >>> from fuelsim.fuel.molecules.species import species
        >>> two = Mixture(species().take(("n-pentane", "n-octane")))
        >>> terms = PhaseTerms.at(two, np.array([310.93]))
        >>> s = terms.mean_sqrt_virial(np.array([[1.0], [0.0]]))
        >>> bool(abs(s[0] - terms.sqrt_virial[0, 0]) < 1e-15)
        True
        """
        mean: PointArray = (self.sqrt_virial * self._fuel(y)).sum(axis=0) / y.sum(axis=0)
        return mean

    def liquid_volume(self, x: SpeciesArray) -> PointArray:
        """Return the molar volume of a liquid, m3/mol; that of dissolved air is neglected.

        Parameters
        ----------
        x : array (species, points)
            Mole fractions of the liquid.

        Returns
        -------
        array (points,)

        Examples
        --------
        n-Heptane at 20 degC (CoolProp 146.6 cm3/mol):

        >>> from fuelsim.fuel.molecules.species import species
        >>> terms = PhaseTerms.at(Mixture(species().take(("n-heptane",))), np.array([293.15]))
        >>> round(1e6 * float(terms.liquid_volume(np.ones((1, 1)))[0]), 1)
        146.6
        """
        volume: PointArray = (self.volume * self._fuel(x)).sum(axis=0)
        return volume

    def vapour_volume(self, pressure: PointArray, mean_sqrt_virial: PointArray) -> PointArray:
        """Return the molar volume of a vapour, m3/mol.

        Parameters
        ----------
        pressure : array (points,)
            Pa absolute.
        mean_sqrt_virial : array (points,)
            From `mean_sqrt_virial`.

        Returns
        -------
        array (points,)

        Examples
        --------
        Without a virial coefficient the vapour is an ideal gas:

        >>> from fuelsim.fuel.molecules.species import species
        >>> two = Mixture(species().take(("n-pentane", "n-octane")))
        >>> terms = PhaseTerms.at(two, np.array([310.93]))
        >>> round(float(terms.vapour_volume(np.array([1e5]), np.zeros(1))[0]), 6)
        0.025852
        """
        ideal = self.thermal / pressure
        volume: PointArray = ideal - np.minimum(mean_sqrt_virial**2, LARGEST_CORRECTION * ideal)
        return volume

    def take(self, points: BoolArray) -> PhaseTerms:
        """Return the terms of some of the points.

        Parameters
        ----------
        points : array (points,) of bool

        Examples
        --------
        >>> from fuelsim.fuel.molecules.species import species
        >>> two = Mixture(species().take(("n-pentane", "n-octane")))
        >>> terms = PhaseTerms.at(two, np.array([310.93]))
        >>> terms.take(np.array([True])).temperature.tolist()
        [310.93]
        """
        return PhaseTerms(
            self.mixture,
            self.temperature[points],
            self.thermal[points],
            self.unifac.take(points),
            self.volume[:, points],
            self.sqrt_virial[:, points],
            self.log_fugacity[:, points],
            self.poynting[:, points],
            None if self.ostwald is None else self.ostwald[points],
        )


def _with_air(values: SpeciesArray, air_value: float, air: bool) -> SpeciesArray:
    return np.concatenate([values, np.full((1, values.shape[1]), air_value)]) if air else values


def heat_of_vaporisation(mixture: Mixture, temperature: PointArray) -> SpeciesArray:
    """Return the heat of vaporisation of every row of the mixture, J/mol; zero for air.

    Parameters
    ----------
    mixture : Mixture
    temperature : array (points,)
        K.

    Returns
    -------
    array (species, points)

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> with_air = Mixture(species().take(("n-heptane",)), air=True)
    >>> heat_of_vaporisation(with_air, np.array([371.55])).round(-3).tolist()  # CoolProp: 31.8 kJ/mol
    [[32000.0], [0.0]]
    """
    return _with_air(mixture.species.heat_of_vaporisation(temperature), 0.0, mixture.air)


def heat_capacity(mixture: Mixture, temperature: PointArray) -> SpeciesArray:
    """Return the heat capacity of the liquid of every row of the mixture, J/mol/K; that of the gas for air.

    Parameters
    ----------
    mixture : Mixture
    temperature : array (points,)
        K.

    Returns
    -------
    array (species, points)

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> with_air = Mixture(species().take(("n-heptane",)), air=True)
    >>> heat_capacity(with_air, np.array([293.15])).round().tolist()  # CoolProp: 222.7
    [[223.0], [29.0]]
    """
    return _with_air(mixture.species.heat_capacity(temperature), AIR_HEAT_CAPACITY, mixture.air)


def liquid_enthalpy(mixture: Mixture, temperature: PointArray) -> SpeciesArray:
    """Return the enthalpy of every row of the mixture above that of the liquid at 300 K, J/mol; of the gas for air.

    Parameters
    ----------
    mixture : Mixture
    temperature : array (points,)
        K.

    Returns
    -------
    array (species, points)

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> liquid_enthalpy(Mixture(species().take(("n-heptane",))), np.array([300.0])).tolist()
    [[0.0]]
    """
    liquid = mixture.species.liquid_enthalpy(temperature)
    return np.concatenate([liquid, AIR_HEAT_CAPACITY * (temperature - 300.0)[None]]) if mixture.air else liquid
