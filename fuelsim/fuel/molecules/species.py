"""Pure species of fuels: constants and correlations from ``data/species.csv``.

``python -m fuelsim.fuel.molecules.species`` writes that table anew from its sources (see `species_sources`).
Correlations hold from 200 to 480 K, within 0.4 % of their source for vapour pressure, 1 % for molar volume,
3 % for viscosity (light species near their critical point are the worst).
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from functools import cache
from typing import get_args

import numpy as np

from fuelsim.data_files import data_path, read_text
from fuelsim.errors import InputError, nearest
from fuelsim.fuel.molecules import unifac
from fuelsim.fuel.molecules.dortmund import DORTMUND, dortmund_groups
from fuelsim.typing import ActivityModel, BoolArray, FloatArray, PointArray, SpeciesArray

__all__ = ["ACTIVITY_MODELS", "STATED_TEMPERATURE", "Species", "species", "species_names"]

STATED_TEMPERATURE = 288.15
"""Temperature at which volumes and densities of petroleum are stated, K (15 degC)."""
ACTIVITY_MODELS: tuple[ActivityModel, ...] = get_args(ActivityModel)
"""Models of the activity coefficients: original UNIFAC, and modified UNIFAC (Dortmund)."""
_CORRELATIONS = (
    "vapour_pressure",
    "molar_volume",
    "heat_capacity",
    "heat_of_vaporisation",
    "viscosity",
    "conductivity",
    "surface_tension",
    "compressibility",
)


def _powers(x: PointArray, count: int) -> FloatArray:
    """Return the powers of x from 0 to count - 1, ``(count, points)``."""
    powers = np.empty((count, *x.shape))
    powers[0] = 1.0
    for k in range(1, count):
        np.multiply(powers[k - 1], x, out=powers[k])
    return powers


def _groups(texts: tuple[str, ...], families: tuple[str, ...], model: str) -> unifac.Groups:
    if model not in ACTIVITY_MODELS:
        raise InputError(
            "unknown model of the activity coefficients",
            given=model,
            accepted=nearest(model, ACTIVITY_MODELS),
            key="activity_model",
        )
    if model == "unifac":
        return unifac.Groups.from_text(texts)
    translated = tuple(dortmund_groups(text, family) for text, family in zip(texts, families, strict=True))
    return unifac.Groups.from_text(translated, DORTMUND)


@dataclass(frozen=True, eq=False)
class Species:
    """A set of species as arrays, one row each.

    Correlation methods take temperatures ``(points,)`` in K and return ``(species, points)``.

    Attributes
    ----------
    names : tuple of str
    family : tuple of str
        One of paraffin, isoparaffin, olefin, naphthene, aromatic, alcohol or ether.
    carbon, hydrogen, oxygen : array (species,)
        Atoms in a molecule.
    molar_mass : array (species,)
        kg/mol.
    critical_temperature, critical_pressure : array (species,)
        K, Pa.
    virial_acentric_factor : array (species,)
        Acentric factor for the second virial coefficient; for an alcohol that of the paraffin of like size, so that
        association is left out.
    lower_heating_value : array (species,)
        J/mol of liquid at 25 degC, water as vapour.
    unifac : `unifac.Groups`
        Groups of the activity model.
    coefficients : dict
        Polynomial coefficients, ``(species, degree + 1)`` for each correlation.
    activity_model : str
        One of `ACTIVITY_MODELS`.
    """

    names: tuple[str, ...]
    family: tuple[str, ...]
    carbon: FloatArray
    hydrogen: FloatArray
    oxygen: FloatArray
    molar_mass: FloatArray
    critical_temperature: FloatArray
    critical_pressure: FloatArray
    virial_acentric_factor: FloatArray
    lower_heating_value: FloatArray
    groups: tuple[str, ...] = field(repr=False)
    unifac: unifac.Groups = field(repr=False)
    coefficients: dict[str, FloatArray] = field(repr=False)
    activity_model: str = "unifac"

    def take(self, names: tuple[str, ...], activity_model: str | None = None) -> Species:
        """Return the named rows, in the order given.

        Parameters
        ----------
        names : tuple of str
        activity_model : {"unifac", "dortmund"}, optional
            Model of the activity coefficients; as in this set unless stated.

        Raises
        ------
        InputError
            For a name that is not in the table, with the nearest one, or an unknown model.

        Examples
        --------
        >>> species().take(("toluene", "ethanol")).family
        ('aromatic', 'alcohol')
        """
        for name in names:
            if name not in self.names:
                raise InputError("no such species", given=name, accepted=nearest(name, self.names))
        rows = np.array([self.names.index(name) for name in names], dtype=np.intp)
        groups = tuple(self.groups[row] for row in rows)
        family = tuple(self.family[row] for row in rows)
        model = activity_model or self.activity_model
        return Species(
            names=tuple(names),
            family=family,
            carbon=self.carbon[rows],
            hydrogen=self.hydrogen[rows],
            oxygen=self.oxygen[rows],
            molar_mass=self.molar_mass[rows],
            critical_temperature=self.critical_temperature[rows],
            critical_pressure=self.critical_pressure[rows],
            virial_acentric_factor=self.virial_acentric_factor[rows],
            lower_heating_value=self.lower_heating_value[rows],
            groups=groups,
            unifac=_groups(groups, family, model),
            coefficients={key: value[rows] for key, value in self.coefficients.items()},
            activity_model=model,
        )

    def is_family(self, *families: str) -> BoolArray:
        """Return which rows belong to any of the families, ``(species,)`` of bool.

        Examples
        --------
        >>> species().take(("toluene", "ethanol")).is_family("alcohol", "ether").tolist()
        [False, True]
        """
        return np.array([name in families for name in self.family])

    def _polynomial(self, key: str, x: PointArray) -> SpeciesArray:
        coefficients = self.coefficients[key]
        value: SpeciesArray = coefficients @ _powers(x, coefficients.shape[1])
        return value

    def log_vapour_pressure(self, temperature: PointArray) -> SpeciesArray:
        """Natural logarithm of the vapour pressure in Pa.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 4.72 kPa:

        >>> heptane = species().take(("n-heptane",))
        >>> round(float(np.exp(heptane.log_vapour_pressure(np.array([293.15])))[0, 0]), -2)
        4700.0
        """
        return self._polynomial("vapour_pressure", 300.0 / temperature)

    def molar_volume(self, temperature: PointArray) -> SpeciesArray:
        """Molar volume of the saturated liquid, m3/mol.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 146.6 cm3/mol:

        >>> heptane = species().take(("n-heptane",))
        >>> round(1e6 * float(heptane.molar_volume(np.array([293.15]))[0, 0]), 1)
        146.6
        """
        volume: SpeciesArray = np.exp(self._polynomial("molar_volume", temperature / 300.0))
        return volume

    @property
    def volume_at_15(self) -> FloatArray:
        """Molar volume of the liquid at 15 degC, where volume fractions are stated, m3/mol, ``(species,)``.

        Examples
        --------
        n-Heptane, by CoolProp 145.7 cm3/mol:

        >>> round(1e6 * float(species().take(("n-heptane",)).volume_at_15[0]), 1)
        145.7
        """
        return self.molar_volume(np.array([STATED_TEMPERATURE]))[:, 0]

    def heat_capacity(self, temperature: PointArray) -> SpeciesArray:
        """Heat capacity of the liquid, J/mol/K.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 222.7 J/mol/K:

        >>> heptane = species().take(("n-heptane",))
        >>> round(float(heptane.heat_capacity(np.array([293.15]))[0, 0]))
        223
        """
        return self._polynomial("heat_capacity", temperature / 300.0)

    def liquid_enthalpy(self, temperature: PointArray) -> SpeciesArray:
        """Enthalpy of the liquid above that at 300 K, J/mol: the integral of `heat_capacity`.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane warmed from 300 to 310 K, by CoolProp 2.27 kJ/mol:

        >>> heptane = species().take(("n-heptane",))
        >>> round(1e-3 * float(heptane.liquid_enthalpy(np.array([310.0]))[0, 0]), 2)
        2.27
        """
        coefficients = self.coefficients["heat_capacity"]
        integral = 300.0 * coefficients / np.arange(1.0, coefficients.shape[1] + 1.0)
        x = temperature / 300.0
        enthalpy: SpeciesArray = integral @ (_powers(x, coefficients.shape[1]) * x - 1.0)
        return enthalpy

    def heat_of_vaporisation(self, temperature: PointArray) -> SpeciesArray:
        """Heat of vaporisation, J/mol; at least 5 kJ/mol, which keeps enthalpies of light gases monotone.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 36.9 kJ/mol:

        >>> heptane = species().take(("n-heptane",))
        >>> round(1e-3 * float(heptane.heat_of_vaporisation(np.array([293.15]))[0, 0]), 1)
        36.9
        """
        heat: SpeciesArray = np.maximum(self._polynomial("heat_of_vaporisation", temperature / 300.0), 5000.0)
        return heat

    def log_viscosity(self, temperature: PointArray) -> SpeciesArray:
        """Natural logarithm of the dynamic viscosity of the liquid in Pa s.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 0.412 mPa s:

        >>> heptane = species().take(("n-heptane",))
        >>> viscosity = np.exp(heptane.log_viscosity(np.array([293.15])))[0, 0]
        >>> bool(abs(viscosity / 0.412e-3 - 1.0) < 0.03)
        True
        """
        return self._polynomial("viscosity", 300.0 / temperature)

    def conductivity(self, temperature: PointArray) -> SpeciesArray:
        """Thermal conductivity of the liquid, W/m/K.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 0.124 W/m/K:

        >>> heptane = species().take(("n-heptane",))
        >>> round(float(heptane.conductivity(np.array([293.15]))[0, 0]), 2)
        0.12
        """
        value: SpeciesArray = np.maximum(self._polynomial("conductivity", temperature / 300.0), 0.03)
        return value

    def surface_tension(self, temperature: PointArray) -> SpeciesArray:
        """Surface tension, N/m.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 20.2 mN/m:

        >>> heptane = species().take(("n-heptane",))
        >>> round(1e3 * float(heptane.surface_tension(np.array([293.15]))[0, 0]), 1)
        20.2
        """
        tension: SpeciesArray = np.maximum(self._polynomial("surface_tension", temperature / 300.0), 0.0)
        return tension

    def compressibility(self, temperature: PointArray) -> SpeciesArray:
        """Isothermal compressibility of the liquid, 1/Pa.

        Parameters
        ----------
        temperature : array (points,)
            K.

        Returns
        -------
        array (species, points)

        Examples
        --------
        n-Heptane at 20 degC, by CoolProp 1.40 per GPa:

        >>> heptane = species().take(("n-heptane",))
        >>> round(1e9 * float(heptane.compressibility(np.array([293.15]))[0, 0]), 2)
        1.4
        """
        value: SpeciesArray = np.exp(self._polynomial("compressibility", temperature / 300.0))
        return value


@cache
def species() -> Species:
    """Return the whole table.

    Examples
    --------
    >>> table = species().take(("ethanol",))
    >>> float(np.exp(table.log_vapour_pressure(np.array([310.928])))[0, 0].round(-2))
    15900.0
    """
    path = data_path("species.csv")
    rows = list(csv.DictReader(io.StringIO(read_text(path))))
    columns = {key: [row[key] for row in rows] for key in rows[0]}

    def numbers(key: str) -> FloatArray:
        return np.array(columns[key], dtype=float)

    return Species(
        names=tuple(columns["name"]),
        family=tuple(columns["family"]),
        carbon=numbers("carbon"),
        hydrogen=numbers("hydrogen"),
        oxygen=numbers("oxygen"),
        molar_mass=numbers("molar_mass_kg_mol"),
        critical_temperature=numbers("critical_temperature_K"),
        critical_pressure=numbers("critical_pressure_Pa"),
        virial_acentric_factor=numbers("virial_acentric_factor"),
        lower_heating_value=numbers("lower_heating_value_J_mol"),
        groups=tuple(columns["unifac_groups"]),
        unifac=unifac.Groups.from_text(tuple(columns["unifac_groups"])),
        coefficients={key: np.array([text.split() for text in columns[key]], dtype=float) for key in _CORRELATIONS},
    )


def species_names() -> tuple[str, ...]:
    """Return the names a composition may use.

    Examples
    --------
    >>> "isooctane" in species_names()
    True
    """
    return species().names


if __name__ == "__main__":
    from fuelsim.fuel.molecules.species_sources import write

    target = data_path("README.md").parent / "species.csv"
    write(target)
    print(f"wrote {target}")
