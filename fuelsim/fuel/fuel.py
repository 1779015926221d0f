"""A fuel: what is in the tank, and every question the rest of the library asks about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from fuelsim import catalogue
from fuelsim.errors import InputError, nearest
from fuelsim.fuel import equilibrium, laboratory, liquid_properties, petrol
from fuelsim.fuel.door import fraction_given, pressure_given, pressures, shaped, temperatures
from fuelsim.fuel.equilibrium import Equilibrium
from fuelsim.fuel.phases import Mixture
from fuelsim.fuel.species import Species, species
from fuelsim.fuel.tables import FuelTables
from fuelsim.laws.liquid import Liquid

__all__ = ["Fuel"]

BASES = ("volume", "mole", "mass")
STANDARD = 288.15  # 15 degC: volumes of a composition are taken there


@dataclass(frozen=True)
class Fuel:
    """A liquid fuel of known composition; immutable, equal to another of the same composition.

    Make one with `Fuel.petrol`, `Fuel.from_components` or `Fuel.named`, or from another by `splash_blend`, `mix` or
    `weathered`. Temperatures are K and pressures Pa absolute, as numbers, arrays or text with a unit; they broadcast.

    Attributes
    ----------
    names : tuple of str
        Species, in the order of the species table.
    fractions : tuple of float
        Their mole fractions.
    vapour : str
        ``"virial"`` (second virial coefficient) or ``"ideal"`` (ideal gas).

    Notes
    -----
    Range: 230 to 420 K, 100 Pa to 1 MPa (tables clip instead). Accuracy: `pressure_band`.

    Examples
    --------
    >>> fuel = Fuel.petrol(vapour_pressure="62 kPa", ethanol=0.10)
    >>> round(fuel.dvpe() / 1000, 2)
    62.0
    >>> 45 < fuel.bubble_temperature("1 atm") - 273.15 < 55
    True
    """

    names: tuple[str, ...]
    fractions: tuple[float, ...]
    vapour: str = "virial"
    label: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if self.vapour not in ("virial", "ideal"):
            raise InputError("unknown vapour model", given=self.vapour, accepted="'virial' or 'ideal'", key="vapour")

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.names, self.fractions, self.vapour, self.label)

    # ---- how a fuel is made -------------------------------------------------------------------------------------

    @classmethod
    def from_components(
        cls, components: Mapping[str, float], basis: str = "volume", *, vapour: str = "virial", label: str = ""
    ) -> Fuel:
        """Make a fuel from species and their fractions.

        Parameters
        ----------
        components : mapping of str to float
            Species name to fraction; they must sum to one within 1 %.
        basis : {"volume", "mole", "mass"}
            Volumes are those of the pure liquids at 15 degC.
        vapour : {"virial", "ideal"}
            How the vapour is modelled.
        label : str
            A name to show.

        Raises
        ------
        InputError
            For an unknown species, a negative fraction, fractions that do not sum to one, or an unknown basis.

        Examples
        --------
        >>> neat = Fuel.from_components({"ethanol": 1.0})
        >>> round(neat.bubble_pressure(310.928) / 1000, 1)
        15.9
        """
        if basis not in BASES:
            raise InputError("unknown basis", given=basis, accepted=nearest(str(basis), BASES), key="basis")
        if not isinstance(components, Mapping) or not components:
            raise InputError("no components", given=components, accepted="species and fractions, as {'ethanol': 1.0}")
        amounts = {str(name): fraction_given(share, str(name)) for name, share in components.items()}
        table = species()
        for name in amounts:
            if name not in table.names:
                raise InputError("no such species", given=name, accepted=nearest(name, table.names), part="fuel")
        total = sum(amounts.values())
        if abs(total - 1.0) > 0.01:
            raise InputError("the fractions do not sum to one", given=round(total, 6), accepted="0.99 to 1.01")
        names = tuple(name for name in table.names if amounts.get(name, 0.0) > 0.0)
        rows = table.take(names)
        moles = np.array([amounts[name] for name in names])
        if basis == "volume":
            moles = moles / rows.molar_volume(np.array([STANDARD]))[:, 0]
        elif basis == "mass":
            moles = moles / rows.molar_mass
        return cls(names, tuple((moles / moles.sum()).tolist()), vapour, label)

    @classmethod
    def petrol(
        cls,
        vapour_pressure: Any = "60 kPa",
        ethanol: Any = 0.0,
        *,
        methanol: Any = 0.0,
        ether: Any = 0.0,
        vapour: str = "virial",
        label: str = "",
    ) -> Fuel:
        """Make a petrol of common make-up whose finished blend has the wanted vapour pressure.

        Parameters
        ----------
        vapour_pressure : float or str
            DVPE of the finished fuel, Pa (comparable to a Reid vapour pressure within 1 kPa).
        ethanol, methanol, ether : float or str
            Volume fractions of the finished fuel at 15 degC; the ether is MTBE.
        vapour : {"virial", "ideal"}
        label : str

        Raises
        ------
        InputError
            If no petrol can meet what is asked; the message says what could be met.

        Examples
        --------
        >>> round(Fuel.petrol("9 psi").dvpe() / 6894.757, 2)
        9.0
        """
        wanted = pressure_given(vapour_pressure, "vapour_pressure")
        oxygenates = {
            name: fraction_given(share, key)
            for name, key, share in (
                ("ethanol", "ethanol", ethanol),
                ("methanol", "methanol", methanol),
                ("MTBE", "ether", ether),
            )
        }
        oxygenates = {name: share for name, share in oxygenates.items() if share > 0.0}
        if sum(oxygenates.values()) > 0.95:
            raise InputError("too little hydrocarbon to set a vapour pressure with", given=oxygenates, accepted="95 %")
        return cls.from_components(petrol.with_vapour_pressure(wanted, oxygenates), vapour=vapour, label=label)

    @classmethod
    def named(cls, name: str) -> Fuel:
        """Return a fuel of ``data/fuels`` by name.

        Raises
        ------
        InputError
            For an unknown name, with the nearest one.

        Examples
        --------
        >>> Fuel.named("summer_e10").label
        'summer_e10'
        """
        return _named(str(name))

    @staticmethod
    def names_known() -> list[str]:
        """Return the names `Fuel.named` takes."""
        return catalogue.names("fuels")

    def splash_blend(self, ethanol: Any = 0.0, *, methanol: Any = 0.0) -> Fuel:
        """Return this fuel with alcohol added until it makes up the stated volume fraction of the whole.

        Parameters
        ----------
        ethanol, methanol : float or str
            Volume fraction of the finished blend at 15 degC, not less than the fuel already holds.

        Examples
        --------
        >>> base = Fuel.petrol("60 kPa")
        >>> 6e3 < base.splash_blend(ethanol=0.05).dvpe() - base.dvpe() < 9e3
        True
        """
        wanted = {"ethanol": fraction_given(ethanol, "ethanol"), "methanol": fraction_given(methanol, "methanol")}
        held = self.volume_fractions
        for name in wanted:
            wanted[name] = wanted[name] or held.get(name, 0.0)
        rest = {name: share for name, share in held.items() if name not in wanted}
        room, whole = 1.0 - sum(wanted.values()), sum(rest.values())
        factor = room / whole if whole > 0.0 else 0.0
        less = [name for name, share in wanted.items() if share < held.get(name, 0.0) * factor * (1.0 - 1e-9)]
        if room < -1e-12 or less or (factor == 0.0 and room > 1e-12):
            raise InputError(
                "alcohol can only be added", given=wanted, accepted=f"fractions above {held}, summing to at most 1"
            )
        blend = {name: share * factor for name, share in rest.items()} | wanted
        return Fuel.from_components(blend, vapour=self.vapour)

    def mix(self, other: Fuel, fraction: Any) -> Fuel:
        """Return a mixture with another fuel, such as winter fuel in the tank topped up with summer fuel.

        Parameters
        ----------
        other : Fuel
        fraction : float or str
            Volume fraction of the other fuel at 15 degC.

        Examples
        --------
        >>> half = Fuel.petrol("60 kPa").mix(Fuel.petrol("90 kPa"), 0.5)
        >>> 70e3 < half.dvpe() < 80e3
        True
        """
        share = fraction_given(fraction, "fraction")
        ours, theirs = self.volume_fractions, other.volume_fractions
        names = dict.fromkeys([*ours, *theirs])
        blend = {name: (1.0 - share) * ours.get(name, 0.0) + share * theirs.get(name, 0.0) for name in names}
        return Fuel.from_components(blend, vapour=self.vapour)

    # ---- what it is made of -------------------------------------------------------------------------------------

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
        return self._shares(self._species.molar_volume(np.array([STANDARD]))[:, 0] * self.composition[:, 0])

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
        return float(self.density(STANDARD))

    # ---- properties of the liquid ---------------------------------------------------------------------------------

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

    # ---- boiling ----------------------------------------------------------------------------------------------------

    def _solved(self, function: Any, *values: Any) -> Any:
        """Run an equilibrium function and read one attribute; NaN where there is no answer (`Equilibrium.reason`)."""

        def run(*arrays: np.ndarray) -> np.ndarray:
            result, wanted = function(*arrays)
            return np.where(result.found, wanted(result), np.nan)

        return shaped(run, *values)

    def bubble_pressure(self, temperature: Any) -> Any:
        """Pressure at which the fuel begins to boil, Pa absolute, without dissolved air."""
        return self._solved(
            lambda t: (equilibrium.saturation_pressure(self.mixture, self.composition, t), lambda r: r.pressure),
            temperatures(temperature),
        )

    def bubble_temperature(self, pressure: Any) -> Any:
        """Temperature at which the fuel begins to boil, K, without dissolved air."""
        return self._solved(
            lambda p: (equilibrium.saturation_temperature(self.mixture, self.composition, p), lambda r: r.temperature),
            pressures(pressure),
        )

    def dew_pressure(self, temperature: Any) -> Any:
        """Pressure at which the vapour of the whole fuel begins to condense, Pa absolute."""
        return self._solved(
            lambda t: (equilibrium.saturation_pressure(self.mixture, self.composition, t, 1.0), lambda r: r.pressure),
            temperatures(temperature),
        )

    def dew_temperature(self, pressure: Any) -> Any:
        """Temperature at which the vapour of the whole fuel begins to condense, K."""
        return self._solved(
            lambda p: (
                equilibrium.saturation_temperature(self.mixture, self.composition, p, 1.0),
                lambda r: r.temperature,
            ),
            pressures(pressure),
        )

    def flash(self, temperature: Any, pressure: Any) -> Equilibrium:
        """Return liquid and vapour in equilibrium at temperature and pressure; arrays flattened to points."""
        t, p = np.broadcast_arrays(temperatures(temperature), pressures(pressure))
        return equilibrium.flash(self.mixture, self.composition, t.ravel(), p.ravel())

    def adiabatic_flash(self, liquid_temperature: Any, pressure: Any) -> Equilibrium:
        """Return the state after a drop from all liquid to a pressure without heat; arrays flattened to points."""
        t, p = np.broadcast_arrays(temperatures(liquid_temperature), pressures(pressure))
        return equilibrium.adiabatic_flash(self.mixture, self.composition, t.ravel(), p.ravel())

    def vapour_liquid_ratio(self, temperature: Any, pressure: Any) -> Any:
        """Isothermal V/L: volume of vapour per volume of the liquid that remains, both at T and p.

        What a laboratory chamber shows; in a flow use `vapour_liquid_ratio_after_drop`. Infinite where all has boiled.
        """
        return self._solved(
            lambda t, p: (
                equilibrium.flash(self.mixture, self.composition, t, p),
                lambda r: r.vapour_liquid_ratio,
            ),
            temperatures(temperature),
            pressures(pressure),
        )

    def vapour_liquid_ratio_after_drop(self, liquid_temperature: Any, pressure: Any) -> Any:
        """Isenthalpic V/L after fuel, all liquid at `liquid_temperature`, drops to a pressure without heat.

        It boils and cools itself, so the ratio is a third to a quarter of the isothermal one.
        """
        return self._solved(
            lambda t, p: (
                equilibrium.adiabatic_flash(self.mixture, self.composition, t, p),
                lambda r: r.vapour_liquid_ratio,
            ),
            temperatures(liquid_temperature),
            pressures(pressure),
        )

    def vapour_liquid_temperature(self, ratio: float = 20.0, p: Any = 101325.0, *, with_air: bool = False) -> Any:
        """T(V/L = ratio) by ASTM D5188's definition: vapour volume per volume of the liquid sample at 0 degC, K.

        Parameters
        ----------
        ratio : float
            8 to 75 in the method.
        p : float, str or array
            Pa absolute.
        with_air : bool
            The sample holds the air it dissolves at 0 degC, as in the method; this lowers the answer by about 0.3 K.
        """
        return shaped(
            lambda values: laboratory.vapour_liquid_temperature(
                self.mixture, self._repeated(values), float(ratio), values, with_air=with_air
            ),
            pressures(p),
        )

    def _repeated(self, values: np.ndarray) -> np.ndarray:
        return np.repeat(self.composition, values.size, axis=1)

    def dvpe(self) -> float:
        """Dry vapour pressure equivalent at 37.8 degC, Pa (ASTM D5191, EN 13016-1; air-saturated sample)."""
        return float(laboratory.dry_vapour_pressure_equivalent(self.mixture, self.composition)[0])

    def vapour_pressure_at(self, temperature: Any) -> Any:
        """Pressure of an air-saturated sample at 40 to 100 degC and V/L 3:2, Pa absolute (EN 13016-2)."""
        return shaped(
            lambda t: laboratory.chamber_pressure(self.mixture, self._repeated(t), t, 1.5), temperatures(temperature)
        )

    def tables(self) -> FuelTables:
        """Return tables of this fuel for fast lookups in sweeps; built at the first call, then kept."""
        return _tables(self)


@lru_cache(maxsize=64)
def _tables(fuel: Fuel) -> FuelTables:
    return FuelTables(fuel)


@lru_cache(maxsize=64)
def _named(name: str) -> Fuel:
    path = catalogue.named_path("fuels", name)
    data = catalogue.read_toml(path)
    try:
        if "components" in data:
            return Fuel.from_components(data["components"], str(data.get("basis", "volume")), label=name)
        return Fuel.petrol(**data["petrol"], label=name)
    except InputError as error:
        raise error.at(file=f"fuels/{name}.toml") from error
