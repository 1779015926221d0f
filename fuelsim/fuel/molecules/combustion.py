"""Combustion of a fuel: stoichiometric air and heating value, from the atoms and enthalpies of its species."""

from __future__ import annotations

from fuelsim.fuel.molecules.dissolved_air import AIR_MOLAR_MASS
from fuelsim.fuel.molecules.species import Species
from fuelsim.typing import FloatArray

__all__ = ["OXYGEN_IN_AIR", "lower_heating_value", "oxygen_demand", "stoichiometric_air_fuel_ratio"]

OXYGEN_IN_AIR = 0.20946
"""Mole fraction of oxygen in dry air."""


def oxygen_demand(species: Species) -> FloatArray:
    """Return the molecules of oxygen that burn a molecule of each species completely, (species,).

    Parameters
    ----------
    species : Species

    Notes
    -----
    A molecule C_c H_h O_o needs c + h/4 - o/2 molecules of oxygen.

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> oxygen_demand(species().take(("ethanol", "isooctane"))).tolist()
    [3.0, 12.5]
    """
    demand: FloatArray = species.carbon + species.hydrogen / 4.0 - species.oxygen / 2.0
    return demand


def stoichiometric_air_fuel_ratio(species: Species, x: FloatArray) -> float:
    """Return the mass of dry air that burns a mass of fuel completely.

    Parameters
    ----------
    species : Species
    x : array (species,)
        Mole fractions.

    Examples
    --------
    Ethanol needs 9.0 (US DOE property table), isooctane 15.1:

    >>> import numpy as np
    >>> from fuelsim.fuel.molecules.species import species
    >>> table = species()
    >>> [round(stoichiometric_air_fuel_ratio(table.take((name,)), np.ones(1)), 1) for name in ("ethanol", "isooctane")]
    [9.0, 15.1]
    """
    return float(oxygen_demand(species) @ x / OXYGEN_IN_AIR * AIR_MOLAR_MASS / (species.molar_mass @ x))


def lower_heating_value(species: Species, x: FloatArray) -> float:
    """Return the lower heating value of the liquid at 25 degC, J/kg: the water leaves as vapour.

    Parameters
    ----------
    species : Species
    x : array (species,)
        Mole fractions.

    Examples
    --------
    Ethanol gives 26.9 MJ/kg (US DOE property table):

    >>> import numpy as np
    >>> from fuelsim.fuel.molecules.species import species
    >>> bool(abs(lower_heating_value(species().take(("ethanol",)), np.ones(1)) / 26.9e6 - 1.0) < 0.01)
    True
    """
    return float((species.lower_heating_value @ x) / (species.molar_mass @ x))
