"""Compositions as fractions by volume, mass or moles, with alcohol added and fuels mixed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.fuel.arguments import FRACTION
from fuelsim.fuel.molecules.species import species
from fuelsim.typing import Basis, Given

__all__ = ["BASES", "mixed", "mole_fractions", "with_alcohol"]

BASES = get_args(Basis)


def mole_fractions(components: Mapping[str, Given], basis: str) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """Return species, in the order of the table, and their mole fractions.

    Parameters
    ----------
    components : mapping of str to float
        Species to fraction.
    basis : {"volume", "mole", "mass"}
        Volumes are those of the pure liquids at 15 degC.

    Raises
    ------
    InputError
        For an unknown species or basis, a negative fraction, or fractions that do not sum to one within 1 %.

    Examples
    --------
    >>> mole_fractions({"ethanol": 0.25, "isooctane": 0.75}, "mole")
    (('isooctane', 'ethanol'), (0.75, 0.25))
    """
    if basis not in BASES:
        raise InputError("unknown basis", given=basis, accepted=nearest(str(basis), BASES), key="basis")
    if not isinstance(components, Mapping) or not components:
        raise InputError("no components", given=components, accepted="species and fractions, as {'ethanol': 1.0}")
    table, amounts = species(), {}
    for name, share in components.items():
        if name not in table.names:
            raise InputError("no such species", given=name, accepted=nearest(name, table.names), part="fuel")
        try:
            amounts[name] = float(FRACTION.to_si(share))
        except InputError as error:
            raise error.at(key=name) from None
    total = sum(amounts.values())
    if abs(total - 1.0) > 0.01:
        raise InputError("the fractions do not sum to one", given=round(total, 6), accepted="0.99 to 1.01")
    names = tuple(name for name in table.names if amounts.get(name, 0.0) > 0.0)
    rows = table.take(names)
    moles = np.array([amounts[name] for name in names])
    if basis == "volume":
        moles = moles / rows.volume_at_15
    elif basis == "mass":
        moles = moles / rows.molar_mass
    return names, tuple((moles / moles.sum()).tolist())


def with_alcohol(held: Mapping[str, float], wanted: Mapping[str, float]) -> dict[str, float]:
    """Return volume fractions after alcohols are added until they make up the wanted fractions of the whole.

    Parameters
    ----------
    held, wanted : mapping of str to float
        Species to volume fraction, of the fuel and of the alcohols in the blend; zero leaves an alcohol as it is.

    Raises
    ------
    InputError
        If that would need alcohol to be taken out.

    Examples
    --------
    >>> with_alcohol({"isooctane": 0.75, "ethanol": 0.25}, {"ethanol": 0.5})
    {'isooctane': 0.5, 'ethanol': 0.5}
    """
    final = {name: share or held.get(name, 0.0) for name, share in wanted.items()}
    rest = {name: share for name, share in held.items() if name not in final}
    room, whole = 1.0 - sum(final.values()), sum(rest.values())
    factor = room / whole if whole > 0.0 else 0.0
    less = [name for name, share in final.items() if share < held.get(name, 0.0) * factor * (1.0 - 1e-9)]
    if room < -1e-12 or less or (factor == 0.0 and room > 1e-12):
        accepted = ", ".join(f"{name} from {held.get(name, 0.0):.3g}" for name in final)
        raise InputError("alcohol can only be added", given=dict(wanted), accepted=f"{accepted}, together at most 1")
    return {name: share * factor for name, share in rest.items()} | final


def mixed(first: Mapping[str, float], second: Mapping[str, float], fraction: float) -> dict[str, float]:
    """Return volume fractions of a mixture of two fuels.

    Parameters
    ----------
    first, second : mapping of str to float
        Species to volume fraction.
    fraction : float
        Volume fraction of the second fuel in the mixture.

    Examples
    --------
    >>> mixed({"isooctane": 1.0}, {"ethanol": 1.0}, 0.25)
    {'isooctane': 0.75, 'ethanol': 0.25}
    """
    names = dict.fromkeys([*first, *second])
    return {name: (1.0 - fraction) * first.get(name, 0.0) + fraction * second.get(name, 0.0) for name in names}
