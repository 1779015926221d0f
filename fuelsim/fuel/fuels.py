"""A petrol per operating point: lists of vapour pressures and ethanol contents, so that fuels ride on the batch axis.

A few different petrols each have tables of their own. Of many, the tables are those of a lattice of petrols, linear
between them in vapour pressure and ethanol: within 0.1 % of the bubble pressure along the vapour pressure and 0.4 %
along the ethanol (tested), a tenth of what the fuel model itself is sure of.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.table_lookup import Shares
from fuelsim.fuel.tables import FuelTables
from fuelsim.numerics.cells import cells_of
from fuelsim.typing import ActivityModel, FloatArray, FloatLike, PointArray

__all__ = ["FuelPerPoint"]

MOST_WITH_OWN_TABLES = 12
"""Number of different petrols up to which each has tables of its own."""
MOST_PETROLS = 120
"""Greatest number of petrols of a lattice; the tables of each take about 0.2 s."""
PRESSURE_KNOTS = np.geomspace(10e3, 150e3, 57)
"""Vapour pressures of the lattice, Pa, 5 % apart: the same for all lists, so that parts of one share tables."""
ETHANOL_KNOTS = np.array([0.0, 0.01, 0.02, 0.035, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
"""Ethanol contents of the lattice; they crowd where a little ethanol raises the vapour pressure most."""


@dataclass(frozen=True)
class FuelPerPoint:
    """One petrol per operating point.

    Attributes
    ----------
    fuels : tuple of Fuel
        The petrols that have tables.
    shares : Shares
        Which of them each point takes, (members, points).
    """

    fuels: tuple[Fuel, ...]
    shares: Shares

    @classmethod
    def petrols(
        cls, vapour_pressure: FloatLike, ethanol: FloatLike, activity_model: ActivityModel = "unifac"
    ) -> FuelPerPoint:
        """Return the petrols of some vapour pressures and ethanol contents.

        Parameters
        ----------
        vapour_pressure, ethanol : float or array (points,)
            DVPE, Pa absolute, and fraction of the volume; at least one is a list.
        activity_model : str, optional
            As `Fuel.petrol`.

        Returns
        -------
        FuelPerPoint

        Raises
        ------
        InputError
            If no petrol meets one of them, or the lists spread over more than `MOST_PETROLS` petrols.

        Examples
        --------
        >>> import numpy as np
        >>> each = FuelPerPoint.petrols(np.array([54e3, 60e3]), 0.1)
        >>> both = each.tables().bubble_pressure(np.full(2, 310.93))
        >>> bool(abs(both[0] / Fuel.petrol("54 kPa", 0.1).bubble_pressure(310.93) - 1.0) < 1e-4)
        True
        """
        asked = np.stack(np.broadcast_arrays(np.atleast_1d(vapour_pressure), np.atleast_1d(ethanol))).astype(float)
        different, which = np.unique(asked, axis=1, return_inverse=True)
        if different.shape[1] <= MOST_WITH_OWN_TABLES:
            fuels = tuple(_petrol(*pair, activity_model) for pair in different.T.tolist())
            return cls(fuels, Shares(which.reshape(1, -1), np.ones((1, asked.shape[1]))))
        along = [_placed(PRESSURE_KNOTS, asked[0]), _placed(ETHANOL_KNOTS, asked[1])]
        members = list(product(*along))
        pairs = np.stack([np.stack([pressure.value, share.value]) for pressure, share in members], axis=1)
        weight = np.stack([pressure.weight * share.weight for pressure, share in members])
        knots, table = np.unique(pairs.reshape(2, -1), axis=1, return_inverse=True)
        if knots.shape[1] > MOST_PETROLS:
            raise InputError(
                f"a list of fuels that takes the tables of {knots.shape[1]} petrols",
                accepted=f"one that takes at most {MOST_PETROLS}: a narrower range of vapour pressure or ethanol",
                key="fuel",
            )
        fuels = tuple(_petrol(*pair, activity_model) for pair in knots.T.tolist())
        return cls(fuels, Shares(table.reshape(weight.shape), weight))

    @property
    def stoichiometric_air_fuel_ratio(self) -> PointArray:
        """Mass of air over mass of fuel, (points,)."""
        ratios = np.array([fuel.stoichiometric_air_fuel_ratio for fuel in self.fuels])
        return np.asarray(np.sum(self.shares.weight * ratios[self.shares.table], axis=0))

    def tables(self) -> FuelTables:
        """Return tables for lookups of arrays whose last axis is that of the points.

        Returns
        -------
        FuelTables

        Examples
        --------
        >>> import numpy as np
        >>> each = FuelPerPoint.petrols(np.array([54e3, 60e3]), 0.1)
        >>> each.tables().density(np.full((3, 2), 300.0)).shape
        (3, 2)
        """
        return self._tables

    @cached_property
    def _tables(self) -> FuelTables:
        return FuelTables.mixed([fuel.tables() for fuel in self.fuels], self.shares)


@lru_cache(maxsize=256)
def _petrol(vapour_pressure: float, ethanol: float, activity_model: ActivityModel) -> Fuel:
    return Fuel.petrol(vapour_pressure, ethanol, activity_model=activity_model)


class _Member(NamedTuple):
    """A knot that each point takes, (points,), and its weight."""

    value: PointArray
    weight: PointArray


def _placed(knots: FloatArray, asked: PointArray) -> list[_Member]:
    """Return the knots on either side of each point; one where each point lies on a knot."""
    if np.all(np.isin(asked, knots)):
        return [_Member(asked, np.ones(asked.shape))]
    low, upper = cells_of(knots, asked)
    return [_Member(knots[low], 1.0 - upper), _Member(knots[low + 1], upper)]
