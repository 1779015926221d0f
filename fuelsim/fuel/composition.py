"""Composition of a fuel, and the properties of its liquid."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Self

import numpy as np

from fuelsim.arguments import check_of, choice, takes
from fuelsim.errors import InputError, nearest, shortened
from fuelsim.fuel.arguments import FRACTION, TEMPERATURE, shaped
from fuelsim.fuel.calibration import Calibration
from fuelsim.fuel.molecules import combustion, liquid_properties
from fuelsim.fuel.molecules.species import ACTIVITY_MODELS, STATED_TEMPERATURE, Species, species
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.liquid import Liquid
from fuelsim.typing import ActivityModel, FloatLike, PointArray, Quantity, SpeciesArray, VapourModel

__all__ = ["Composition"]

OXYGEN_MOLAR_MASS = 0.015999
"""Molar mass of oxygen atoms, kg/mol."""
_FORMS = {
    "vapour": choice(("virial", "ideal")).convert,
    "label": check_of(str),
    "calibration": check_of(Calibration | None),
    "activity_model": choice(ACTIVITY_MODELS).convert,
}
"""Checks of what is neither species nor fraction."""


@dataclass(frozen=True)
class Composition:
    """Species and mole fractions, with the liquid properties that follow from them.

    `BoilingFuel` adds boiling, and `Fuel` constructors and laboratory tests. Mixing rules of the liquid properties,
    with their sources, are in `fuelsim.fuel.molecules.liquid_properties`.

    Attributes
    ----------
    names, fractions, vapour, label, calibration, activity_model
        As of `fuelsim.fuel.fuel.Fuel`.
    """

    names: tuple[str, ...]
    fractions: tuple[float, ...]
    vapour: VapourModel = "virial"
    label: str = field(default="", compare=False)
    calibration: Calibration | None = field(default=None, compare=False, repr=False)
    activity_model: ActivityModel = "unifac"

    def __post_init__(self) -> None:
        _check_shares(self.names, self.fractions)
        for key, check in _FORMS.items():
            try:
                check(getattr(self, key))
            except InputError as error:
                raise error.at(part="Fuel", key=key) from None

    @cached_property
    def mixture(self) -> Mixture:
        """Species, activity and vapour model, for the functions of `fuelsim.fuel.phase_equilibrium.flashes`."""
        return Mixture(species().take(self.names, self.activity_model), ideal_vapour=self.vapour == "ideal")

    @cached_property
    def composition(self) -> SpeciesArray:
        """Mole fractions as a column, ``(species, 1)``."""
        return np.array(self.fractions)[:, None]

    @takes()
    def with_activity_model(self, activity_model: ActivityModel) -> Self:
        """Return the same composition with another model of the liquid's activity coefficients.

        A petrol made for a vapour pressure no longer has it: `petrol` takes the model where it shall.

        Parameters
        ----------
        activity_model : {"unifac", "dortmund"}

        Returns
        -------
        Fuel

        Raises
        ------
        InputError
            For an unknown model.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.petrol("60 kPa")
        >>> 1e3 < fuel.with_activity_model("dortmund").dvpe() - fuel.dvpe() < 5e3
        True
        """
        return replace(self, activity_model=activity_model)

    @property
    def _species(self) -> Species:
        return self.mixture.species

    @property
    def mole_fractions(self) -> dict[str, float]:
        """Species to mole fraction.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.from_components({"isooctane": 0.6, "toluene": 0.4})
        >>> round(sum(fuel.mole_fractions.values()), 9)
        1.0
        """
        return dict(zip(self.names, self.fractions, strict=True))

    def _shares(self, amount: PointArray) -> dict[str, float]:
        return dict(zip(self.names, (amount / amount.sum()).tolist(), strict=True))

    @property
    def mass_fractions(self) -> dict[str, float]:
        """Species to mass fraction.

        Examples
        --------
        Toluene is the denser:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.from_components({"isooctane": 0.6, "toluene": 0.4})
        >>> fuel.mass_fractions["toluene"] > 0.4
        True
        """
        return self._shares(self._species.molar_mass * self.composition[:, 0])

    @property
    def volume_fractions(self) -> dict[str, float]:
        """Species to volume fraction at 15 degC.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.from_components({"isooctane": 0.6, "toluene": 0.4})
        >>> round(fuel.volume_fractions["toluene"], 6)
        0.4
        """
        return self._shares(self._species.volume_at_15 * self.composition[:, 0])

    @takes()
    def family_fraction(self, *families: str) -> float:
        """Volume fraction of one or more families of species, at 15 degC.

        Parameters
        ----------
        *families : str
            paraffin, isoparaffin, olefin, naphthene, aromatic, alcohol or ether.

        Returns
        -------
        float
            Volume fraction of all of them together.

        Raises
        ------
        InputError
            For an unknown family.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.from_components({"isooctane": 0.6, "toluene": 0.4}).family_fraction("aromatic"), 6)
        0.4
        """
        known = sorted(set(species().family))
        for family in families:
            if family not in known:
                raise InputError("no such family", given=family, accepted=nearest(family, known), key="families")
        shares = np.array(list(self.volume_fractions.values()))
        return float(shares[self._species.is_family(*families)].sum())

    @property
    def ethanol(self) -> float:
        """Volume fraction of ethanol at 15 degC.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.named("summer_e10").ethanol, 4)
        0.1
        """
        return self.volume_fractions.get("ethanol", 0.0)

    @property
    def oxygen(self) -> float:
        """Mass fraction of oxygen, all of it in alcohols and ethers.

        Examples
        --------
        Ethanol, C2H6O, holds 34.7 %:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.named("neat_ethanol").oxygen, 3)
        0.347
        """
        return float(OXYGEN_MOLAR_MASS * self._species.oxygen @ self.composition[:, 0]) / self.molar_mass

    @property
    def molar_mass(self) -> float:
        """Molar mass, kg/mol.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.named("neat_ethanol").molar_mass, 5)
        0.04607
        """
        return float(self._species.molar_mass @ self.composition[:, 0])

    @property
    def density_at_15(self) -> float:
        """Density at 15 degC, kg/m3.

        Examples
        --------
        Ethanol has 793.6 (CoolProp):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> abs(Fuel.named("neat_ethanol").density_at_15 - 793.6) < 1.0
        True
        """
        return float(self.density(STATED_TEMPERATURE))

    @property
    def stoichiometric_air_fuel_ratio(self) -> float:
        """Stoichiometric air-fuel ratio: mass of dry air per mass of fuel.

        Examples
        --------
        Ethanol takes 9.0 (US DOE property table):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.named("neat_ethanol").stoichiometric_air_fuel_ratio, 1)
        9.0
        """
        return combustion.stoichiometric_air_fuel_ratio(self._species, self.composition[:, 0])

    @property
    def lower_heating_value(self) -> float:
        """Lower heating value of the liquid at 25 degC, J/kg.

        Examples
        --------
        Ethanol gives 26.9 MJ/kg (US DOE property table):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> abs(Fuel.named("neat_ethanol").lower_heating_value / 26.9e6 - 1.0) < 0.01
        True
        """
        return combustion.lower_heating_value(self._species, self.composition[:, 0])

    def _liquid(
        self, function: Callable[[Species, SpeciesArray, PointArray], PointArray], temperature: FloatLike
    ) -> FloatLike:
        return shaped(lambda t: function(self._species, self.composition, t), temperature)

    @takes({"temperature": TEMPERATURE})
    def density(self, temperature: Quantity) -> FloatLike:
        """Density of the liquid, kg/m3. +-0.5 % to 60 degC, +-1 % to 120 degC.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        A petrol of 745 kg/m3 at 15 degC has 722 at 40 degC (API MPMS 11.1 table 54B):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> abs(Fuel.petrol("58 kPa", density=745.0).density("40 degC") / 722.2 - 1.0) < 0.005
        True
        """
        return self._liquid(liquid_properties.density, temperature)

    @takes({"temperature": TEMPERATURE})
    def viscosity(self, temperature: Quantity) -> FloatLike:
        """Dynamic viscosity of the liquid, Pa s. +-10 %.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Petrol has 0.5 to 0.6 mm2/s at 20 degC (US DOE property table):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.petrol("62 kPa")
        >>> 0.5e-6 < fuel.viscosity("20 degC") / fuel.density("20 degC") < 0.6e-6
        True
        """
        return self._liquid(liquid_properties.viscosity, temperature)

    @takes({"temperature": TEMPERATURE})
    def heat_capacity(self, temperature: Quantity) -> FloatLike:
        """Heat capacity of the liquid, J/kg/K. +-3 %, with alcohol +-5 %.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Petrol has 2.01 kJ/kg/K near 20 degC (US DOE property table):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> abs(Fuel.petrol("62 kPa").heat_capacity("20 degC") / 2010.0 - 1.0) < 0.03
        True
        """
        return self._liquid(liquid_properties.heat_capacity, temperature)

    @takes({"temperature": TEMPERATURE})
    def conductivity(self, temperature: Quantity) -> FloatLike:
        """Thermal conductivity of the liquid, W/m/K. +-8 %.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Petrol lies between 0.110 and 0.125 (from its components):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> 0.110 < Fuel.petrol("62 kPa").conductivity("20 degC") < 0.125
        True
        """
        return self._liquid(liquid_properties.conductivity, temperature)

    @takes({"temperature": TEMPERATURE})
    def heat_of_vaporisation(self, temperature: Quantity) -> FloatLike:
        """Heat of vaporisation of the whole fuel at one temperature, J/kg: 0 to 12 % high for a petrol.

        `fuelsim.fuel.molecules.liquid_properties.heat_of_vaporisation` compares published means, and says why.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Petrols have 325 to 375 kJ/kg (NREL, OSTI 1242469):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> 325e3 < Fuel.petrol("62 kPa").heat_of_vaporisation("25 degC") < 375e3
        True
        """
        return self._liquid(liquid_properties.heat_of_vaporisation, temperature)

    @takes({"temperature": TEMPERATURE})
    def surface_tension(self, temperature: Quantity) -> FloatLike:
        """Surface tension, N/m. +-10 %.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        n-Heptane at 20 degC has 20.2 mN/m (CoolProp):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(1e3 * Fuel.from_components({"n-heptane": 1.0}).surface_tension("20 degC"), 1)
        20.2
        """
        return self._liquid(liquid_properties.surface_tension, temperature)

    @takes({"temperature": TEMPERATURE})
    def bulk_modulus(self, temperature: Quantity) -> FloatLike:
        """Isothermal bulk modulus of the liquid, Pa. +-8 % to 40 degC, -8 to +15 % at 90 degC.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        A law of density alone (API MPMS 11.2.1M) gives 880 MPa for 740 kg/m3 at 20 degC; species, mixed, give less:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> bool(0.80 < Fuel.petrol("58 kPa", density=740.0).bulk_modulus("20 degC") / 880e6 < 0.90)
        True
        """
        return self._liquid(liquid_properties.bulk_modulus, temperature)

    @takes({"temperature": TEMPERATURE})
    def sound_speed(self, temperature: Quantity) -> FloatLike:
        """Speed of sound in the unconfined liquid, m/s. +-4 % to 40 degC, -4 to +8 % at 90 degC.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Pulse-echo readings of petrol gave 1128 m/s [gupta_sharma_2010]:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> abs(Fuel.petrol("62 kPa").sound_speed("20 degC") / 1128.0 - 1.0) < 0.04
        True
        """
        return self._liquid(liquid_properties.sound_speed, temperature)

    @takes({"temperature": TEMPERATURE})
    def liquid(self, temperature: Quantity) -> Liquid:
        """Return density and viscosity as the hydraulic laws take them.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        Liquid
            Density, kg/m3, and kinematic viscosity, m2/s, in the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Ethanol at 20 degC has 1.50 mm2/s (US DOE property table):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(1e6 * float(Fuel.named("neat_ethanol").liquid("20 degC").kinematic_viscosity), 1)
        1.5
        """
        rho = self.density(temperature)
        return Liquid(density=rho, kinematic_viscosity=self.viscosity(temperature) / rho)


def _check_shares(names: Sequence[str], fractions: Sequence[float]) -> None:
    """Raise an error where names are no species or mole fractions do not belong to them."""
    known = species().names
    if not isinstance(names, (list, tuple)) or not isinstance(fractions, (list, tuple)):
        accepted = "tuples of species and mole fractions; Fuel.petrol, Fuel.from_components or Fuel.named make them"
        raise InputError("not species and fractions", given=shortened(names), accepted=accepted, part="Fuel")
    for name in names:
        if name not in known:
            raise InputError("no such species", given=name, accepted=nearest(name, known), part="Fuel", key="names")
    shares = np.atleast_1d(replace(FRACTION, single=False).to_si(list(fractions)))
    if len(shares) != len(names) or abs(shares.sum() - 1.0) > 0.01:
        raise InputError(
            "mole fractions do not fit the species",
            given=list(fractions),
            accepted=f"{len(names)} fractions that sum to one",
            part="Fuel",
            key="fractions",
        )
