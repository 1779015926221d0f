"""How the flow of a pump falls with vapour at its inlet: the assumed form, or a table measured with hot fuel."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel
from fuelsim.laws.motor import hot_flow_factor
from fuelsim.laws.vapour_flow import measured_vapour_flow_factor, vapour_flow_factor
from fuelsim.typing import FloatArray, FloatLike, IndexArray

__all__ = ["HotFuelTable", "HotFuelTest", "VapourHandling"]


class HotFuelTable(NamedTuple):
    """Flow of a pump against vapour at its inlet, as measured.

    Attributes
    ----------
    vapour_liquid_ratio : array (rows,)
        V/L at the inlet, rising.
    flow_share : array (rows,)
        Liquid flow over that without vapour, falling.
    """

    vapour_liquid_ratio: FloatArray
    flow_share: FloatArray


class VapourHandling(NamedTuple):
    """How the flow of a pump falls with vapour at its inlet.

    Attributes
    ----------
    tolerance : float or array (points,)
        V/L at the inlet up to which the flow falls in proportion only; of a table where its flow begins to collapse.
    table : HotFuelTable or None
        Measured flow; None for the assumed form, `vapour_flow_factor`.
    """

    tolerance: FloatLike
    table: HotFuelTable | None = None

    def flow_share(self, vapour_liquid_ratio: FloatLike) -> FloatArray:
        """Return the liquid flow over that without vapour, from 1 down, above 0.

        Parameters
        ----------
        vapour_liquid_ratio : float or array (points,)
            V/L at the inlet.

        Returns
        -------
        array

        Examples
        --------
        >>> VapourHandling(2.0).flow_share(np.array([0.0, 1.0, 4.0])).tolist()
        [1.0, 0.5, 0.1]
        """
        if self.table is None:
            return vapour_flow_factor(vapour_liquid_ratio, self.tolerance)
        return measured_vapour_flow_factor(vapour_liquid_ratio, *self.table)

    def take(self, index: IndexArray) -> VapourHandling:
        """Return it at some of the operating points only.

        Parameters
        ----------
        index : int array
            Indices of the operating points.

        Returns
        -------
        VapourHandling

        Examples
        --------
        >>> VapourHandling(np.array([1.0, 2.0, 3.0])).take(np.array([2])).tolerance.tolist()
        [3.0]
        """
        tolerance = np.asarray(self.tolerance)
        return self._replace(tolerance=tolerance[index]) if tolerance.ndim and tolerance.size > 1 else self


class HotFuelTest(NamedTuple):
    """Ratings of a pump that were measured with hot fuel; None for what is not given.

    Attributes
    ----------
    flow_share : array (rows,) or None
        Flow over that without vapour, or over that of the first row where the rows are temperatures.
    vapour_liquid_ratio : array (rows,) or None
        V/L at the inlet.
    temperature : array (rows,) or None
        Temperature of the liquid fuel before the inlet, K.
    inlet_pressure : float or None
        Pressure at the inlet of a test over temperature, Pa absolute.
    fuel : str or None
        Name of the fuel of a test over temperature.
    vapour_pressure : float or None
        Its dry vapour pressure equivalent where the fuel has no name, Pa.
    """

    flow_share: FloatArray | None
    vapour_liquid_ratio: FloatArray | None
    temperature: FloatArray | None
    inlet_pressure: float | None
    fuel: str | None
    vapour_pressure: float | None

    def check(self) -> None:
        """Raise InputError where the table is not whole, does not fall, or is not 1 without vapour."""
        ratio, temperature = self.vapour_liquid_ratio, self.temperature
        if self.flow_share is None:
            for key in self._fields[1:]:
                if getattr(self, key) is not None:
                    raise InputError("no flow shares with it", accepted="hot_flow_share as well", key=f"hot_{key}")
            return
        if (ratio is None) == (temperature is None):
            raise InputError(
                "give what the flow was measured against in one way",
                accepted="either hot_vapour_liquid_ratio or hot_temperature",
                key="hot_flow_share",
            )
        rows, key = (ratio, "hot_vapour_liquid_ratio") if temperature is None else (temperature, "hot_temperature")
        _check_rows(np.asarray(rows), self.flow_share, key)
        if temperature is None:
            return
        if self.flow_share[0] != 1.0:
            raise InputError(
                "the first row is that of the cold fuel",
                given=self.flow_share[0],
                accepted="100 %",
                key="hot_flow_share",
            )
        if self.inlet_pressure is None:
            raise InputError("no pressure at the inlet with it", accepted="hot_inlet_pressure", key="hot_temperature")
        if (self.fuel is None) == (self.vapour_pressure is None):
            raise InputError(
                "give the fuel of the test in one way",
                accepted="either hot_fuel or hot_vapour_pressure",
                key="hot_temperature",
            )

    def table(self, hot_flow_loss: float) -> HotFuelTable | None:
        """Return the flow against V/L; temperatures become V/L with the tables of the test's own fuel.

        What thinner fuel takes without vapour is taken out, since it is a rating of its own.

        Parameters
        ----------
        hot_flow_loss : float
            Fraction of the flow lost from 20 to 60 degC without vapour.

        Returns
        -------
        HotFuelTable or None
            None without a test.

        Raises
        ------
        InputError
            Where no row of a test over temperature boils.

        Examples
        --------
        >>> test = HotFuelTest(np.array([1.0, 0.9, 0.4]), None, np.array([293.15, 318.15, 333.15]), 95e3,
        ...                    "summer_e10", None)
        >>> table = test.table(0.0)
        >>> len(table.flow_share), bool(table.vapour_liquid_ratio[-1] > 5.0)
        (1, True)
        """
        if self.flow_share is None:
            return None
        if self.temperature is None:
            return HotFuelTable(np.asarray(self.vapour_liquid_ratio), self.flow_share)
        fuel = _test_fuel(self.fuel, self.vapour_pressure)
        inlet_pressure = np.full(self.temperature.shape, self.inlet_pressure)
        ratio = np.asarray(fuel.tables().vapour_liquid_ratio_after_drop(self.temperature, inlet_pressure))
        thin = hot_flow_factor(self.temperature, hot_flow_loss)
        share = np.minimum.accumulate(self.flow_share * thin[0] / thin)
        boils = ratio > 0.0
        if not np.any(boils):
            raise InputError(
                "the fuel of the test boils at none of these temperatures",
                given=self.temperature.tolist(),
                accepted=f"above {float(fuel.bubble_temperature(self.inlet_pressure)):.1f} K",
                key="hot_temperature",
                part="Pump",
            )
        return HotFuelTable(ratio[boils], share[boils])


@lru_cache(maxsize=16)
def _test_fuel(name: str | None, vapour_pressure: float | None) -> Fuel:
    return Fuel.petrol(vapour_pressure=vapour_pressure) if name is None else Fuel.named(name)


def _check_rows(rows: FloatArray, share: FloatArray, key: str) -> None:
    """Check that a table of flow shares rises in its rows, falls in its shares, and is 1 without vapour."""
    if len(rows) != len(share):
        raise InputError(
            f"{len(share)} values, but {len(rows)} of {key}", accepted=f"{len(rows)} values", key="hot_flow_share"
        )
    if np.any(np.diff(rows) <= 0.0):
        raise InputError("the rows do not rise", given=rows.tolist(), accepted="rising values", key=key)
    if np.any(np.diff(share) > 0.0):
        raise InputError(
            "the flow does not fall", given=share.tolist(), accepted="falling values", key="hot_flow_share"
        )
    if key == "hot_vapour_liquid_ratio":
        if rows[0] == 0.0 and share[0] != 1.0:
            raise InputError(
                "the flow without vapour is the whole flow", given=share[0], accepted="100 %", key="hot_flow_share"
            )
        if rows[-1] == 0.0:
            raise InputError("no row has vapour", given=rows.tolist(), accepted="a row above 0", key=key)
