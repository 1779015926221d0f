"""What the two phases of a blend are made of and how each species divides between them: ln K at given states."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.fuel.molecules import unifac
from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient
from fuelsim.fuel.molecules.species import GAS_CONSTANT, Species
from fuelsim.fuel.molecules.virial import LARGEST_CORRECTION, root_virial

__all__ = ["Mixture", "PhaseTerms", "heat_capacity", "heat_of_vaporisation", "liquid_enthalpy"]

AIR_HEAT_CAPACITY = 29.0  # J/mol/K


@dataclass(frozen=True, eq=False)
class Mixture:
    """Species that share a liquid and a vapour.

    Attributes
    ----------
    species : Species
    ideal_vapour : bool
        Leave the second virial coefficient out.
    air : bool
        Dissolved air is one more row, the last, of every composition.
    density_at_15 : float or array (points,)
        kg/m3, of the fuel; used by the solubility of air only.
    """

    species: Species
    ideal_vapour: bool = False
    air: bool = False
    density_at_15: float = 740.0


class PhaseTerms:
    """What depends on temperature alone, at the temperatures of the points."""

    def __init__(self, mixture: Mixture, temperature: np.ndarray) -> None:
        table = mixture.species
        self.mixture = mixture
        self.temperature = temperature
        self.thermal = GAS_CONSTANT * temperature
        self.unifac = unifac.temperature_terms(table.unifac, temperature)
        self.volume = table.molar_volume(temperature)
        self.root = np.zeros_like(self.volume) if mixture.ideal_vapour else root_virial(table, temperature)
        log_pressure = table.log_vapour_pressure(temperature)
        if mixture.ideal_vapour:
            self.log_fugacity, self.poynting = log_pressure, np.zeros_like(self.volume)
        else:
            pure = np.exp(log_pressure)
            correction = np.minimum(self.root**2 * pure / self.thermal, LARGEST_CORRECTION)
            self.poynting = self.volume / self.thermal
            self.log_fugacity = log_pressure - correction - self.poynting * pure
        if mixture.air:
            self.ostwald = ostwald_coefficient(temperature, mixture.density_at_15)

    def log_k(self, pressure: np.ndarray, log_activity: np.ndarray, mean_root: np.ndarray, x: np.ndarray) -> np.ndarray:
        """Return ln(y/x), from activity coefficients and the mean root virial s of the vapour."""
        fuel = self.log_fugacity + log_activity
        if not self.mixture.ideal_vapour:
            square = mean_root**2
            with np.errstate(divide="ignore"):
                effective = np.minimum(pressure / self.thermal, LARGEST_CORRECTION / square)
            fuel = fuel + self.poynting * pressure + (2.0 * self.root * mean_root - square) * effective
        if self.mixture.air:
            volume = (self.volume * x[:-1]).sum(axis=0) / x[:-1].sum(axis=0)
            fuel = np.concatenate([fuel, np.log(self.thermal / (self.ostwald * volume))[None]])
        return fuel - np.log(pressure)

    def log_activity(self, x: np.ndarray) -> np.ndarray:
        """Return ln gamma of the fuel species over a liquid; air has none."""
        fuel = x[:-1] if self.mixture.air else x
        return unifac.log_activity(self.mixture.species.unifac, self.unifac, fuel)

    def mean_root(self, y: np.ndarray) -> np.ndarray:
        """Return s = sum y g of a vapour."""
        fuel = y[:-1] if self.mixture.air else y
        return (self.root * fuel).sum(axis=0) / y.sum(axis=0)

    def liquid_volume(self, x: np.ndarray) -> np.ndarray:
        """Return the molar volume of a liquid, m3/mol; dissolved air takes no room."""
        fuel = x[:-1] if self.mixture.air else x
        return (self.volume * fuel).sum(axis=0)

    def vapour_volume(self, pressure: np.ndarray, mean_root: np.ndarray) -> np.ndarray:
        """Return the molar volume of a vapour, m3/mol."""
        ideal = self.thermal / pressure
        return ideal - np.minimum(mean_root**2, LARGEST_CORRECTION * ideal)

    def take(self, points: np.ndarray) -> PhaseTerms:
        """Return the terms of some of the points."""
        taken = object.__new__(PhaseTerms)
        taken.mixture = self.mixture
        taken.unifac = self.unifac.take(points)
        for key, value in self.__dict__.items():
            if isinstance(value, np.ndarray):
                setattr(taken, key, value[..., points])
        return taken


def _with_air(values: np.ndarray, last: float, air: bool) -> np.ndarray:
    return np.concatenate([values, np.full((1, values.shape[1]), last)]) if air else values


def heat_of_vaporisation(mixture: Mixture, temperature: np.ndarray) -> np.ndarray:
    """Return J/mol for every row of the mixture; nothing for air."""
    return _with_air(mixture.species.heat_of_vaporisation(temperature), 0.0, mixture.air)


def heat_capacity(mixture: Mixture, temperature: np.ndarray) -> np.ndarray:
    """Return J/mol/K of the liquid for every row of the mixture."""
    return _with_air(mixture.species.heat_capacity(temperature), AIR_HEAT_CAPACITY, mixture.air)


def liquid_enthalpy(mixture: Mixture, temperature: np.ndarray) -> np.ndarray:
    """Return J/mol above liquid at 300 K, for every row; air as a gas."""
    table = mixture.species.liquid_enthalpy(temperature)
    return np.concatenate([table, AIR_HEAT_CAPACITY * (temperature - 300.0)[None]]) if mixture.air else table
