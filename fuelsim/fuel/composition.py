"""What a fuel is made of, and the properties of its liquid."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fuel import blending, burning, liquid_properties
from fuelsim.fuel.calibration import Calibration
from fuelsim.fuel.door import shaped, temperatures
from fuelsim.fuel.phases import Mixture
from fuelsim.fuel.species import Species, species
from fuelsim.laws.liquid import Liquid

__all__ = ["Composition"]


@dataclass(frozen=True)
class Composition:
    """Species and mole fractions, with the liquid properties that follow; `Fuel` adds boiling and ways to make one.

    Attributes are those of `fuelsim.fuel.fuel.Fuel`.
    """

    names: tuple[str, ...]
    fractions: tuple[float, ...]
    vapour: str = "virial"
    label: str = field(default="", compare=False)
    calibration: Calibration | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.vapour not in ("virial", "ideal"):
            raise InputError("unknown vapour model", given=self.vapour, accepted="'virial' or 'ideal'", key="vapour")

    @cached_property
    def mixture(self) -> Mixture:
        """Species and vapour model, for the functions of `fuelsim.fuel.equilibrium`."""
        return Mixture(species().take(self.names), ideal_vapour=self.vapour == "ideal")

    @cached_property
    def composition(self) -> np.ndarray:
        """Mole fractions as a column, ``(species, 1)``."""
        return np.array(self.fractions)[:, None]

    @property
    def _species(self) -> Species:
        return self.mixture.species

    @property
    def mole_fractions(self) -> dict[str, float]:
        """Species to mole fraction."""
        return dict(zip(self.names, self.fractions, strict=True))

    def _shares(self, amount: np.ndarray) -> dict[str, float]:
        return dict(zip(self.names, (amount / amount.sum()).tolist(), strict=True))

    @property
    def mass_fractions(self) -> dict[str, float]:
        """Species to mass fraction."""
        return self._shares(self._species.molar_mass * self.composition[:, 0])

    @property
    def volume_fractions(self) -> dict[str, float]:
        """Species to volume fraction at 15 degC."""
        return self._shares(self._species.molar_volume(np.array([blending.STANDARD]))[:, 0] * self.composition[:, 0])

    def family_fraction(self, *families: str) -> float:
        """Volume fraction at 15 degC of one or more families: paraffin, isoparaffin, olefin, naphthene, aromatic,
        alcohol, ether."""
        shares = np.array(list(self.volume_fractions.values()))
        return float(shares[self._species.is_family(*families)].sum())

    @property
    def ethanol(self) -> float:
        """Volume fraction of ethanol at 15 degC."""
        return self.volume_fractions.get("ethanol", 0.0)

    @property
    def molar_mass(self) -> float:
        """kg/mol."""
        return float(self._species.molar_mass @ self.composition[:, 0])

    @property
    def density_at_15(self) -> float:
        """Density at 15 degC, kg/m3."""
        return float(self.density(blending.STANDARD))

    @property
    def stoichiometric_air_fuel_ratio(self) -> float:
        """Mass of air that burns a mass of fuel."""
        return burning.stoichiometric_air_fuel_ratio(self._species, self.composition[:, 0])

    @property
    def lower_heating_value(self) -> float:
        """J/kg of liquid at 25 degC."""
        return burning.lower_heating_value(self._species, self.composition[:, 0])

    def _liquid(self, function: Any, temperature: Any) -> Any:
        return shaped(lambda t: function(self._species, self.composition, t), temperatures(temperature))

    def density(self, temperature: Any) -> Any:
        """Density of the liquid, kg/m3. +-0.5 % to 60 degC, +-1 % to 120 degC."""
        return self._liquid(liquid_properties.density, temperature)

    def viscosity(self, temperature: Any) -> Any:
        """Dynamic viscosity of the liquid, Pa s. +-10 %."""
        return self._liquid(liquid_properties.viscosity, temperature)

    def heat_capacity(self, temperature: Any) -> Any:
        """Heat capacity of the liquid, J/kg/K. +-3 %, with alcohol +-5 %."""
        return self._liquid(liquid_properties.heat_capacity, temperature)

    def conductivity(self, temperature: Any) -> Any:
        """Thermal conductivity of the liquid, W/m/K. +-8 %."""
        return self._liquid(liquid_properties.conductivity, temperature)

    def heat_of_vaporisation(self, temperature: Any) -> Any:
        """Heat to evaporate all of it at one temperature, J/kg. +-5 %."""
        return self._liquid(liquid_properties.heat_of_vaporisation, temperature)

    def surface_tension(self, temperature: Any) -> Any:
        """Surface tension, N/m. +-10 %."""
        return self._liquid(liquid_properties.surface_tension, temperature)

    def bulk_modulus(self, temperature: Any) -> Any:
        """Isothermal bulk modulus of the liquid, Pa. +-7 % to 90 degC."""
        return self._liquid(liquid_properties.bulk_modulus, temperature)

    def sound_speed(self, temperature: Any) -> Any:
        """Speed of sound in the unconfined liquid, m/s. +-4 % to 90 degC."""
        return self._liquid(liquid_properties.sound_speed, temperature)

    def liquid(self, temperature: Any) -> Liquid:
        """Return density and viscosity as the hydraulic laws take them."""
        rho = self.density(temperature)
        return Liquid(density=rho, kinematic_viscosity=self.viscosity(temperature) / rho)
