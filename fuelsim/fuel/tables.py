"""Property tables of one fuel, or of a fuel per operating point, for coupled sweeps: interpolation, not flashes.

Lookups take arrays of any shape and have continuous first derivatives. Arguments outside the tables are clipped instead
of refused: temperatures to 220-430 K, pressures to 0.5 kPa-3 MPa. Against the direct calculation they are accurate to
0.1 % up to 90 mol% of vapour (tested).
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import NamedTuple, overload

import numpy as np

from fuelsim.fuel.molecules import liquid_properties
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.fuel.table_lookup import Curve, Shares, Surface
from fuelsim.typing import BoolArray, FloatArray, FloatLike, IndexArray, PointArray, SpeciesArray

__all__ = ["FuelTables"]

LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE = 220.0, 430.0
"""Ends of all tables in temperature, K."""
LOWEST_PRESSURE, HIGHEST_PRESSURE = 500.0, 3e6
"""Ends of the table of boiling temperatures in pressure, Pa."""
LARGEST_FRACTION = 0.97
"""Moles of vapour per mole at the end of the isothermal table."""
LOWEST_FLASH_PRESSURE = 800.0
"""Pressure at the end of the isenthalpic table, Pa."""
TOLERANCE = 1e-8
"""Tolerance of the flashes that the tables are built from."""


class _Lookup(NamedTuple):
    """Position of states in the two surfaces below the bubble pressure.

    Attributes
    ----------
    depth : array
        ln(bubble pressure/pressure), from zero on.
    inside : array
        The part of the depth that the table covers.
    first, second : array
        Temperature and depth on the scale of the surface, 0 to 1.
    """

    depth: FloatArray
    inside: FloatArray
    first: FloatArray
    second: FloatArray


class FuelTables:
    """Tables of one fuel, made by `Fuel.tables`, which keeps them; or of one fuel per point, made by `mixed`.

    Methods have the names, arguments and units of those of the fuel. Numbers and arrays of any shape broadcast;
    results take their shape. With one fuel per point, their last axis is that of the points.

    Parameters
    ----------
    mixture : Mixture
        Species of the fuel, without air.
    x : array (species, 1)
        Mole fractions.
    """

    _shares: Shares | None = None

    def __init__(self, mixture: Mixture, x: SpeciesArray) -> None:
        grid = np.linspace(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, 71)
        table = mixture.species
        bubble = flashes.saturation_pressure(mixture, x, grid)

        def curve(values: FloatArray) -> Curve:
            return Curve(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, values)

        self._density = curve(liquid_properties.density(table, x, grid))
        self._log_viscosity = curve(np.log(liquid_properties.viscosity(table, x, grid)))
        self._heat_capacity = curve(liquid_properties.heat_capacity(table, x, grid))
        self._log_bubble = curve(np.log(bubble.pressure))
        pressures = np.linspace(np.log(LOWEST_PRESSURE), np.log(HIGHEST_PRESSURE), 81)
        boiling = flashes.saturation_temperature(mixture, x, np.exp(pressures)).temperature
        self._boiling = Curve(pressures[0], pressures[-1], boiling)
        self._build_surfaces(mixture, x)

    def _build_surfaces(self, mixture: Mixture, x: FloatArray, rows: int = 37) -> None:
        temperature = np.linspace(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, rows)
        bubble = flashes.saturation_pressure(mixture, x, temperature).pressure
        end = flashes.saturation_pressure(mixture, x, temperature, LARGEST_FRACTION)
        depth = np.maximum(np.log(bubble / end.pressure), 1e-3)
        drop = np.log(bubble / np.minimum(LOWEST_FLASH_PRESSURE, 0.3 * bubble))

        def states(width: PointArray, position: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
            """Return temperature, depth and pressure at positions across the width of the table."""
            position[0] = 1e-4  # the ratio per depth has a limit at the bubble point; this is near enough to it
            below = width[:, None] * position
            return np.repeat(temperature, position.size), below.ravel(), (bubble[:, None] * np.exp(-below)).ravel()

        even = np.linspace(0.0, 1.0, 49)
        crowded = even * (2.0 - even)  # grid lines crowd towards the dew point, where the ratio rises steeply
        t, below, pressure = states(depth, crowded)
        fraction = flashes.flash(mixture, x, t, pressure, TOLERANCE)
        ratio = fraction.vapour_liquid_ratio
        if mixture.species.molar_mass.size == 1:  # a pure fuel boils at one pressure: a steep ramp replaces the jump
            part = np.tile(crowded, rows) * LARGEST_FRACTION
            ratio = part / (1.0 - part) * fraction.vapour_volume / fraction.liquid_volume
        self._isothermal = Surface(np.log(ratio / np.expm1(below)).reshape(rows, -1))
        t, below, pressure = states(drop, np.linspace(0.0, 1.0, 37))
        dropped = flashes.adiabatic_flash(mixture, x, t, pressure, TOLERANCE)
        self._adiabatic = Surface(np.log(dropped.vapour_liquid_ratio / np.expm1(below)).reshape(rows, -1))
        self._cooling = Surface(((t - dropped.temperature) / below).reshape(rows, -1))
        self._depth = Curve(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, depth)
        self._drop = Curve(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, drop)

    @classmethod
    def mixed(cls, tables: Sequence[FuelTables], shares: Shares) -> FuelTables:
        """Return tables of one fuel per point, each the weighted mean of the tables of some fuels.

        Parameters
        ----------
        tables : list of FuelTables
            Each of one fuel.
        shares : Shares
            Which of them each point takes, (members, points).

        Returns
        -------
        FuelTables

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> both = [Fuel.named(name).tables() for name in ("summer_e10", "winter_e10")]
        >>> each = FuelTables.mixed(both, Shares(np.array([[0, 1]]), np.ones((1, 2))))
        >>> bool(each.density(np.full(2, 300.0))[1] == both[1].density(300.0))
        True
        """
        made = copy.copy(tables[0])
        for name, own in vars(tables[0]).items():
            stack = Curve.stacked if isinstance(own, Curve) else Surface.stacked
            setattr(made, name, stack([getattr(each, name) for each in tables]))
        made._shares = shares
        return made

    def take(self, index: IndexArray) -> FuelTables:
        """Return the tables of some points only; of one fuel, those of the fuel.

        Parameters
        ----------
        index : int array
            Which points.

        Returns
        -------
        FuelTables

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> tables = Fuel.named("summer_e10").tables()
        >>> tables.take(np.array([0])) is tables
        True
        """
        return self if self._shares is None else self._with(self._shares.take(index))

    def where(self, mask: BoolArray) -> FuelTables:
        """Return the tables of the elements of an array (..., points) that a mask chooses; of one fuel, its own.

        Parameters
        ----------
        mask : bool array (..., points)

        Returns
        -------
        FuelTables

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> tables = Fuel.named("summer_e10").tables()
        >>> tables.where(np.array([True, False])) is tables
        True
        """
        return self if self._shares is None else self._with(self._shares.where(mask))

    def _with(self, shares: Shares) -> FuelTables:
        made = copy.copy(self)
        made._shares = shares
        return made

    @overload
    def density(self, temperature: float) -> float: ...
    @overload
    def density(self, temperature: FloatArray) -> FloatArray: ...
    def density(self, temperature: FloatLike) -> FloatLike:
        """Density of the liquid, kg/m3.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().density(330.0) / fuel.density(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(self._density(np.asarray(temperature, dtype=float), self._shares))

    @overload
    def viscosity(self, temperature: float) -> float: ...
    @overload
    def viscosity(self, temperature: FloatArray) -> FloatArray: ...
    def viscosity(self, temperature: FloatLike) -> FloatLike:
        """Dynamic viscosity of the liquid, Pa s.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().viscosity(330.0) / fuel.viscosity(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(np.exp(self._log_viscosity(np.asarray(temperature, dtype=float), self._shares)))

    @overload
    def heat_capacity(self, temperature: float) -> float: ...
    @overload
    def heat_capacity(self, temperature: FloatArray) -> FloatArray: ...
    def heat_capacity(self, temperature: FloatLike) -> FloatLike:
        """Heat capacity of the liquid, J/kg/K.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().heat_capacity(330.0) / fuel.heat_capacity(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(self._heat_capacity(np.asarray(temperature, dtype=float), self._shares))

    @overload
    def bubble_pressure(self, temperature: float) -> float: ...
    @overload
    def bubble_pressure(self, temperature: FloatArray) -> FloatArray: ...
    def bubble_pressure(self, temperature: FloatLike) -> FloatLike:
        """Pressure at which the fuel begins to boil, Pa absolute.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().bubble_pressure(330.0) / fuel.bubble_pressure(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(np.exp(self._log_bubble(np.asarray(temperature, dtype=float), self._shares)))

    @overload
    def bubble_temperature(self, pressure: float) -> float: ...
    @overload
    def bubble_temperature(self, pressure: FloatArray) -> FloatArray: ...
    def bubble_temperature(self, pressure: FloatLike) -> FloatLike:
        """Temperature at which the fuel begins to boil, K.

        Parameters
        ----------
        pressure : float or array
            Pa absolute; clipped to 0.5 kPa-3 MPa.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().bubble_temperature(9e4) / fuel.bubble_temperature(9e4) - 1.0) < 1e-3
        True
        """
        p = np.maximum(np.asarray(pressure, dtype=float), LOWEST_PRESSURE)
        return _scalar(self._boiling(np.log(p), self._shares))

    def _position(self, temperature: FloatArray, pressure: FloatArray, width: Curve) -> _Lookup:
        t = np.clip(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE)
        bubble = self._log_bubble(t, self._shares)
        depth = np.maximum(bubble - np.log(np.maximum(pressure, LOWEST_PRESSURE)), 0.0)
        full = width(t, self._shares)
        inside = np.minimum(depth, full)
        first = (t - LOWEST_TEMPERATURE) / (HIGHEST_TEMPERATURE - LOWEST_TEMPERATURE)
        return _Lookup(depth, inside, first, inside / full)

    def _ratio(
        self, surface: Surface, width: Curve, temperature: FloatLike, pressure: FloatLike, crowded: bool
    ) -> FloatLike:
        t, p = _broadcast(temperature, pressure)
        # Most states of a sweep are liquid: only those that boil need the surface.
        boils = p < np.exp(self._log_bubble(t, self._shares))
        if boils.shape != t.shape:
            t, p = np.broadcast_to(t, boils.shape), np.broadcast_to(p, boils.shape)
        ratio = np.zeros(t.shape)
        if np.any(boils):
            of = self.where(boils)
            depth, inside, first, second = of._position(t[boils], p[boils], width)
            if crowded:
                second = 1.0 - np.sqrt(1.0 - second)
            beyond = depth - inside  # beyond the table the vapour expands; the factor keeps the ratio rising
            ratio[boils] = np.exp(surface(first, second, of._shares) + beyond) * np.expm1(inside) * (1.0 + beyond)
        return _scalar(ratio)

    @overload
    def vapour_liquid_ratio(self, temperature: float, pressure: float) -> float: ...
    @overload
    def vapour_liquid_ratio(self, temperature: FloatArray, pressure: FloatLike) -> FloatArray: ...
    @overload
    def vapour_liquid_ratio(self, temperature: float, pressure: FloatArray) -> FloatArray: ...
    def vapour_liquid_ratio(self, temperature: FloatLike, pressure: FloatLike) -> FloatLike:
        """Isothermal volume of vapour per volume of remaining liquid; zero above the bubble pressure.

        Beyond 97 mol% of vapour the ratio is extrapolated, so that it stays finite and keeps rising.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.
        pressure : float or array
            Pa absolute; clipped to 0.5 kPa-3 MPa.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().vapour_liquid_ratio(330.0, 9e4) / fuel.vapour_liquid_ratio(330.0, 9e4) - 1.0) < 1e-3
        True
        """
        return self._ratio(self._isothermal, self._depth, temperature, pressure, crowded=True)

    @overload
    def vapour_liquid_ratio_after_drop(self, temperature: float, pressure: float) -> float: ...
    @overload
    def vapour_liquid_ratio_after_drop(self, temperature: FloatArray, pressure: FloatLike) -> FloatArray: ...
    @overload
    def vapour_liquid_ratio_after_drop(self, temperature: float, pressure: FloatArray) -> FloatArray: ...
    def vapour_liquid_ratio_after_drop(self, temperature: FloatLike, pressure: FloatLike) -> FloatLike:
        """Isenthalpic volume of vapour per volume of remaining liquid, from all liquid at T to a pressure.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.
        pressure : float or array
            Pa absolute; clipped to 0.5 kPa-3 MPa.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> direct = fuel.vapour_liquid_ratio_after_drop(340.0, 9e4)
        >>> abs(fuel.tables().vapour_liquid_ratio_after_drop(340.0, 9e4) / direct - 1.0) < 1e-3
        True
        """
        return self._ratio(self._adiabatic, self._drop, temperature, pressure, crowded=False)

    @overload
    def temperature_after_drop(self, temperature: float, pressure: float) -> float: ...
    @overload
    def temperature_after_drop(self, temperature: FloatArray, pressure: FloatLike) -> FloatArray: ...
    @overload
    def temperature_after_drop(self, temperature: float, pressure: FloatArray) -> FloatArray: ...
    def temperature_after_drop(self, temperature: FloatLike, pressure: FloatLike) -> FloatLike:
        """Temperature, K, after an isenthalpic drop from all liquid at a temperature to a pressure.

        Parameters
        ----------
        temperature : float or array
            K; clipped to 220-430 K.
        pressure : float or array
            Pa absolute; clipped to 0.5 kPa-3 MPa.

        Returns
        -------
        float or array

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> direct = float(fuel.adiabatic_flash(340.0, 9e4).temperature[0])
        >>> abs(fuel.tables().temperature_after_drop(340.0, 9e4) - direct) < 0.01
        True
        """
        t, p = _broadcast(temperature, pressure)
        _, inside, first, second = self._position(t, p, self._drop)
        return _scalar(t - self._cooling(first, second, self._shares) * inside)


def _broadcast(temperature: FloatLike, pressure: FloatLike) -> tuple[FloatArray, FloatArray]:
    t, p = np.broadcast_arrays(np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float))
    return t, p


def _scalar(value: FloatArray) -> FloatLike:
    return float(value) if value.ndim == 0 else value
