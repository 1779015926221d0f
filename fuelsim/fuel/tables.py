"""Property tables of one fuel on uniform grids, for coupled sweeps: interpolation in place of flashes.

Lookups take arrays of any shape and have continuous first derivatives. Arguments outside the tables are clipped instead
of refused: temperatures to 220-430 K, pressures to 0.5 kPa-3 MPa. Against the direct calculation they are accurate to
0.1 % up to 90 mol% of vapour (tested).
"""

from __future__ import annotations

from typing import NamedTuple, overload

import numpy as np

from fuelsim.fuel.molecules import liquid_properties
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.numerics.cubic import hermite_cell
from fuelsim.typing import FloatArray, FloatLike, PointArray, SpeciesArray

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


def _slopes(values: FloatArray) -> FloatArray:
    """Return the slope per grid step along the first axis: fourth order inside, third order at the ends."""
    slope = np.empty_like(values)
    slope[2:-2] = (8.0 * (values[3:-1] - values[1:-3]) - (values[4:] - values[:-4])) / 12.0
    for end, sign in ((0, 1.0), (-1, -1.0)):
        v = values if end == 0 else values[::-1]
        first = (-11.0 * v[0] + 18.0 * v[1] - 9.0 * v[2] + 2.0 * v[3]) / 6.0
        second = (-2.0 * v[0] - 3.0 * v[1] + 6.0 * v[2] - v[3]) / 6.0
        slope[end], slope[end + (1 if end == 0 else -1)] = sign * first, sign * second
    return slope


def _cells(values: FloatArray) -> FloatArray:
    """Return polynomial coefficients of each cell along the first axis: ``(cells, 4, ...)``."""
    slope = _slopes(values)
    return np.stack(hermite_cell(values[:-1], values[1:], slope[:-1], slope[1:]), axis=1)


class _Curve:
    """A function of one variable on a uniform grid, C1 cubic, clipped at the ends."""

    def __init__(self, start: float, stop: float, values: FloatArray) -> None:
        self.start, self.scale = start, (values.shape[0] - 1) / (stop - start)
        self.cells = np.ascontiguousarray(_cells(values))

    def __call__(self, x: FloatArray) -> FloatArray:
        count = self.cells.shape[0]
        position = np.clip((x - self.start) * self.scale, 0.0, float(count))
        index = np.minimum(position.astype(np.intp), count - 1)
        u = position - index
        c = self.cells.take(index, axis=0)
        value: FloatArray = c[..., 0] + u * (c[..., 1] + u * (c[..., 2] + u * c[..., 3]))
        return value


class _Surface:
    """A function of two variables, both scaled to 0..1, on a uniform grid, C1 bicubic."""

    def __init__(self, values: FloatArray) -> None:
        along_first = _cells(values)  # (cells1, 4, n2)
        along_second = _cells(np.moveaxis(along_first, 2, 0))  # (cells2, 4, cells1, 4)
        coefficients = np.transpose(along_second, (2, 0, 3, 1))  # (cells1, cells2, 4, 4)
        self.shape = coefficients.shape[:2]
        self.cells = np.ascontiguousarray(coefficients).reshape(-1, 16)

    def __call__(self, first: FloatArray, second: FloatArray) -> FloatArray:
        n1, n2 = self.shape
        position1, position2 = first * n1, second * n2
        index1 = np.minimum(position1.astype(np.intp), n1 - 1)
        index2 = np.minimum(position2.astype(np.intp), n2 - 1)
        u, v = position1 - index1, position2 - index2
        c = self.cells.take(index1 * n2 + index2, axis=0)
        value: FloatArray = np.zeros_like(u)
        for row in (12, 8, 4, 0):  # Horner's rule in u, of polynomials in v
            inner = c[..., row] + v * (c[..., row + 1] + v * (c[..., row + 2] + v * c[..., row + 3]))
            value = value * u + inner
        return value


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
    """Tables of one fuel; made by `Fuel.tables`, which keeps them.

    Methods have the names, arguments and units of those of the fuel. Numbers and arrays of any shape broadcast;
    results take their shape.

    Parameters
    ----------
    mixture : Mixture
        Species of the fuel, without air.
    x : array (species, 1)
        Mole fractions.
    """

    def __init__(self, mixture: Mixture, x: SpeciesArray) -> None:
        grid = np.linspace(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, 71)
        table = mixture.species
        bubble = flashes.saturation_pressure(mixture, x, grid)

        def curve(values: FloatArray) -> _Curve:
            return _Curve(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, values)

        self._density = curve(liquid_properties.density(table, x, grid))
        self._log_viscosity = curve(np.log(liquid_properties.viscosity(table, x, grid)))
        self._heat_capacity = curve(liquid_properties.heat_capacity(table, x, grid))
        self._log_bubble = curve(np.log(bubble.pressure))
        pressures = np.linspace(np.log(LOWEST_PRESSURE), np.log(HIGHEST_PRESSURE), 81)
        boiling = flashes.saturation_temperature(mixture, x, np.exp(pressures)).temperature
        self._boiling = _Curve(pressures[0], pressures[-1], boiling)
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
        self._isothermal = _Surface(np.log(ratio / np.expm1(below)).reshape(rows, -1))
        t, below, pressure = states(drop, np.linspace(0.0, 1.0, 37))
        dropped = flashes.adiabatic_flash(mixture, x, t, pressure, TOLERANCE)
        self._adiabatic = _Surface(np.log(dropped.vapour_liquid_ratio / np.expm1(below)).reshape(rows, -1))
        self._cooling = _Surface(((t - dropped.temperature) / below).reshape(rows, -1))
        self._depth = _Curve(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, depth)
        self._drop = _Curve(LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE, drop)

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
        return _scalar(self._density(np.asarray(temperature, dtype=float)))

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
        return _scalar(np.exp(self._log_viscosity(np.asarray(temperature, dtype=float))))

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
        return _scalar(self._heat_capacity(np.asarray(temperature, dtype=float)))

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
        return _scalar(np.exp(self._log_bubble(np.asarray(temperature, dtype=float))))

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
        return _scalar(self._boiling(np.log(p)))

    def _position(self, temperature: FloatArray, pressure: FloatArray, width: _Curve) -> _Lookup:
        t = np.clip(temperature, LOWEST_TEMPERATURE, HIGHEST_TEMPERATURE)
        depth = np.maximum(self._log_bubble(t) - np.log(np.maximum(pressure, LOWEST_PRESSURE)), 0.0)
        full = width(t)
        inside = np.minimum(depth, full)
        first = (t - LOWEST_TEMPERATURE) / (HIGHEST_TEMPERATURE - LOWEST_TEMPERATURE)
        return _Lookup(depth, inside, first, inside / full)

    def _ratio(
        self, surface: _Surface, width: _Curve, temperature: FloatLike, pressure: FloatLike, crowded: bool
    ) -> FloatLike:
        t, p = _broadcast(temperature, pressure)
        ratio = np.zeros(t.shape)
        # Most states of a sweep are liquid: only those that boil need the surface.
        boils = p < np.exp(self._log_bubble(t))
        if np.any(boils):
            depth, inside, first, second = self._position(t[boils], p[boils], width)
            if crowded:
                second = 1.0 - np.sqrt(1.0 - second)
            beyond = depth - inside  # beyond the table the vapour expands; the factor keeps the ratio rising
            ratio[boils] = np.exp(surface(first, second) + beyond) * np.expm1(inside) * (1.0 + beyond)
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
        return _scalar(t - self._cooling(first, second) * inside)


def _broadcast(temperature: FloatLike, pressure: FloatLike) -> tuple[FloatArray, FloatArray]:
    t, p = np.broadcast_arrays(np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float))
    return t, p


def _scalar(value: FloatArray) -> FloatLike:
    return float(value) if value.ndim == 0 else value
