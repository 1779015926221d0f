"""Property tables of one fuel on uniform grids, for coupled sweeps: the same answers as the fuel's, in far less time.

Lookups take arrays of any shape, are smooth in the first derivative, and are clipped at the ends of the table instead
of raising: temperatures to 220-430 K, pressures to 0.5 kPa-3 MPa. Against the direct calculation they are good to
0.1 % up to 90 mol% of vapour (tested).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.fuel.molecules import liquid_properties
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.numerics.cubic import hermite_cell

if TYPE_CHECKING:
    from fuelsim.fuel.composition import Composition

__all__ = ["FuelTables"]

LEAST_TEMPERATURE, MOST_TEMPERATURE = 220.0, 430.0
LEAST_PRESSURE, MOST_PRESSURE = 500.0, 3e6
LARGEST_FRACTION = 0.97  # moles of vapour at the end of the isothermal table
TOLERANCE = 1e-8
LEAST_FLASH_PRESSURE = 800.0  # end of the adiabatic table, Pa


def _slopes(values: np.ndarray) -> np.ndarray:
    """Slope per grid step along the first axis: fourth order inside, third order at the ends."""
    slope = np.empty_like(values)
    slope[2:-2] = (8.0 * (values[3:-1] - values[1:-3]) - (values[4:] - values[:-4])) / 12.0
    for end, sign in ((0, 1.0), (-1, -1.0)):
        v = values if end == 0 else values[::-1]
        first = (-11.0 * v[0] + 18.0 * v[1] - 9.0 * v[2] + 2.0 * v[3]) / 6.0
        second = (-2.0 * v[0] - 3.0 * v[1] + 6.0 * v[2] - v[3]) / 6.0
        slope[end], slope[end + (1 if end == 0 else -1)] = sign * first, sign * second
    return slope


def _cells(values: np.ndarray) -> np.ndarray:
    """Polynomial coefficients of each cell along the first axis: ``(cells, 4, ...)``."""
    slope = _slopes(values)
    return np.stack(hermite_cell(values[:-1], values[1:], slope[:-1], slope[1:]), axis=1)


class _Curve:
    """A function of one variable on a uniform grid, C1 cubic, clipped at the ends."""

    def __init__(self, start: float, stop: float, values: np.ndarray) -> None:
        self.start, self.scale = start, (values.shape[0] - 1) / (stop - start)
        self.cells = np.ascontiguousarray(_cells(values))

    def __call__(self, x: np.ndarray) -> np.ndarray:
        count = self.cells.shape[0]
        place = np.clip((x - self.start) * self.scale, 0.0, float(count))
        index = np.minimum(place.astype(np.intp), count - 1)
        u = place - index
        c = self.cells.take(index, axis=0)
        return c[..., 0] + u * (c[..., 1] + u * (c[..., 2] + u * c[..., 3]))


class _Surface:
    """A function of two variables, both scaled to 0..1, on a uniform grid, C1 bicubic."""

    def __init__(self, values: np.ndarray) -> None:
        along_first = _cells(values)  # (cells1, 4, n2)
        along_second = _cells(np.moveaxis(along_first, 2, 0))  # (cells2, 4, cells1, 4)
        coefficients = np.transpose(along_second, (2, 0, 3, 1))  # (cells1, cells2, 4, 4)
        self.shape = coefficients.shape[:2]
        self.cells = np.ascontiguousarray(coefficients).reshape(-1, 16)

    def __call__(self, first: np.ndarray, second: np.ndarray) -> np.ndarray:
        n1, n2 = self.shape
        place1, place2 = first * n1, second * n2
        index1 = np.minimum(place1.astype(np.intp), n1 - 1)
        index2 = np.minimum(place2.astype(np.intp), n2 - 1)
        u, v = place1 - index1, place2 - index2
        c = self.cells.take(index1 * n2 + index2, axis=0)
        found = np.zeros_like(u)
        for row in (12, 8, 4, 0):
            inner = c[..., row] + v * (c[..., row + 1] + v * (c[..., row + 2] + v * c[..., row + 3]))
            found = found * u + inner
        return found


class FuelTables:
    """Tables of one fuel; build with `Fuel.tables`, which keeps them.

    Methods have the names, arguments and units of the fuel's own.
    """

    def __init__(self, fuel: Composition) -> None:
        mixture, x = fuel.mixture, fuel.composition
        grid = np.linspace(LEAST_TEMPERATURE, MOST_TEMPERATURE, 71)
        table = mixture.species
        bubble = flashes.saturation_pressure(mixture, x, grid)

        def curve(values: np.ndarray) -> _Curve:
            return _Curve(LEAST_TEMPERATURE, MOST_TEMPERATURE, values)

        self._density = curve(liquid_properties.density(table, x, grid))
        self._log_viscosity = curve(np.log(liquid_properties.viscosity(table, x, grid)))
        self._heat_capacity = curve(liquid_properties.heat_capacity(table, x, grid))
        self._log_bubble = curve(np.log(bubble.pressure))
        pressures = np.linspace(np.log(LEAST_PRESSURE), np.log(MOST_PRESSURE), 81)
        boiling = flashes.saturation_temperature(mixture, x, np.exp(pressures)).temperature
        self._boiling = _Curve(pressures[0], pressures[-1], boiling)
        self._build_surfaces(mixture, x)

    def _build_surfaces(self, mixture: Mixture, x: np.ndarray, rows: int = 37) -> None:
        temperature = np.linspace(LEAST_TEMPERATURE, MOST_TEMPERATURE, rows)
        bubble = flashes.saturation_pressure(mixture, x, temperature).pressure
        end = flashes.saturation_pressure(mixture, x, temperature, LARGEST_FRACTION)
        depth = np.maximum(np.log(bubble / end.pressure), 1e-3)
        drop = np.log(bubble / np.minimum(LEAST_FLASH_PRESSURE, 0.3 * bubble))

        def states(width: np.ndarray, share: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
            share[0] = 1e-4  # the ratio per drop has a limit at the bubble point; this is near enough to it
            below = width[:, None] * share
            return np.repeat(temperature, share.size), below.ravel(), (bubble[:, None] * np.exp(-below)).ravel()

        place = np.linspace(0.0, 1.0, 49)
        crowded = place * (2.0 - place)  # grid lines crowd towards the dew point, where the ratio climbs steeply
        t, below, pressure = states(depth, crowded)
        fraction = flashes.flash(mixture, x, t, pressure, TOLERANCE)
        ratio = fraction.vapour_liquid_ratio
        if mixture.species.molar_mass.size == 1:  # a pure fuel boils at one pressure: a steep ramp stands for the jump
            part = np.tile(crowded, rows) * LARGEST_FRACTION
            ratio = part / (1.0 - part) * fraction.vapour_volume / fraction.liquid_volume
        self._isothermal = _Surface(np.log(ratio / np.expm1(below)).reshape(rows, -1))
        t, below, pressure = states(drop, np.linspace(0.0, 1.0, 37))
        dropped = flashes.adiabatic_flash(mixture, x, t, pressure, TOLERANCE)
        self._adiabatic = _Surface(np.log(dropped.vapour_liquid_ratio / np.expm1(below)).reshape(rows, -1))
        self._cooling = _Surface(((t - dropped.temperature) / below).reshape(rows, -1))
        self._depth = _Curve(LEAST_TEMPERATURE, MOST_TEMPERATURE, depth)
        self._drop = _Curve(LEAST_TEMPERATURE, MOST_TEMPERATURE, drop)

    def density(self, temperature: Any) -> Any:
        """Density of the liquid, kg/m3.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().density(330.0) / fuel.density(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(self._density(np.asarray(temperature, dtype=float)))

    def viscosity(self, temperature: Any) -> Any:
        """Dynamic viscosity of the liquid, Pa s.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().viscosity(330.0) / fuel.viscosity(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(np.exp(self._log_viscosity(np.asarray(temperature, dtype=float))))

    def heat_capacity(self, temperature: Any) -> Any:
        """Heat capacity of the liquid, J/kg/K.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().heat_capacity(330.0) / fuel.heat_capacity(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(self._heat_capacity(np.asarray(temperature, dtype=float)))

    def bubble_pressure(self, temperature: Any) -> Any:
        """Pressure at which the fuel begins to boil, Pa absolute.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().bubble_pressure(330.0) / fuel.bubble_pressure(330.0) - 1.0) < 1e-3
        True
        """
        return _scalar(np.exp(self._log_bubble(np.asarray(temperature, dtype=float))))

    def bubble_temperature(self, pressure: Any) -> Any:
        """Temperature at which the fuel begins to boil, K.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().bubble_temperature(9e4) / fuel.bubble_temperature(9e4) - 1.0) < 1e-3
        True
        """
        p = np.maximum(np.asarray(pressure, dtype=float), LEAST_PRESSURE)
        return _scalar(self._boiling(np.log(p)))

    def _below(self, temperature: Any, pressure: Any, width: _Curve) -> tuple[np.ndarray, ...]:
        """Return T, ln(bubble pressure / pressure) from zero on, the part of it inside the table, and both scaled."""
        t, p = np.broadcast_arrays(np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float))
        t = np.clip(t, LEAST_TEMPERATURE, MOST_TEMPERATURE)
        below = np.maximum(self._log_bubble(t) - np.log(np.maximum(p, LEAST_PRESSURE)), 0.0)
        full = width(t)
        inside = np.minimum(below, full)
        return t, below, inside, (t - LEAST_TEMPERATURE) / (MOST_TEMPERATURE - LEAST_TEMPERATURE), inside / full

    def _ratio(self, surface: _Surface, width: _Curve, temperature: Any, pressure: Any, crowded: bool) -> Any:
        t, p = np.broadcast_arrays(np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float))
        ratio = np.zeros(t.shape)
        # Most of what is asked of a sweep is liquid: only what boils needs the surface.
        boils = p < np.exp(self._log_bubble(t))
        if np.any(boils):
            _, below, inside, first, second = self._below(t[boils], p[boils], width)
            if crowded:
                second = 1.0 - np.sqrt(1.0 - second)
            past = below - inside  # beyond the table the vapour expands; the factor keeps the ratio rising
            ratio[boils] = np.exp(surface(first, second) + past) * np.expm1(inside) * (1.0 + past)
        return _scalar(ratio)

    def vapour_liquid_ratio(self, temperature: Any, pressure: Any) -> Any:
        """Isothermal volume of vapour per volume of remaining liquid; zero above the bubble pressure.

        Past 97 mol% of vapour the ratio is made up, so that it stays finite and keeps rising.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().vapour_liquid_ratio(330.0, 9e4) / fuel.vapour_liquid_ratio(330.0, 9e4) - 1.0) < 1e-3
        True
        """
        return self._ratio(self._isothermal, self._depth, temperature, pressure, crowded=True)

    def vapour_liquid_ratio_after_drop(self, temperature: Any, pressure: Any) -> Any:
        """Isenthalpic volume of vapour per volume of remaining liquid, from all liquid at T to a pressure.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> direct = fuel.vapour_liquid_ratio_after_drop(340.0, 9e4)
        >>> abs(fuel.tables().vapour_liquid_ratio_after_drop(340.0, 9e4) / direct - 1.0) < 1e-3
        True
        """
        return self._ratio(self._adiabatic, self._drop, temperature, pressure, crowded=False)

    def temperature_after_drop(self, temperature: Any, pressure: Any) -> Any:
        """Temperature, K, after an isenthalpic drop from all liquid at a temperature to a pressure.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> direct = float(fuel.adiabatic_flash(340.0, 9e4).temperature[0])
        >>> abs(fuel.tables().temperature_after_drop(340.0, 9e4) - direct) < 0.01
        True
        """
        _, _, inside, first, second = self._below(temperature, pressure, self._drop)
        return _scalar(np.asarray(temperature, dtype=float) - self._cooling(first, second) * inside)


def _scalar(value: np.ndarray) -> Any:
    return float(value) if value.ndim == 0 else value
