"""A fuel as the tank sees it: smooth functions of temperature and of the share that has evaporated.

The flashes of the fuel model are too slow for the thousands of steps of a drive. Each property is therefore a
polynomial fitted once per fuel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from fuelsim.fuel.fuels import FuelPerPoint
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.table_lookup import Shares
from fuelsim.numerics.cells import cells_of
from fuelsim.typing import FloatArray, PointArray

if TYPE_CHECKING:
    from fuelsim.fuel.fuel import Fuel

__all__ = [
    "WEATHERED",
    "WEATHERING_TEMPERATURE",
    "BubblePressure",
    "Density",
    "TankFuel",
    "Vapour",
    "tank_fuel",
]

WEATHERED = (0.0, 0.02, 0.05, 0.10, 0.16, 0.24)
"""Mass fractions evaporated for which the fuel's boiling is computed, and at which the fuel has tables."""
WEATHERING_TEMPERATURE = 318.15
"""Temperature at which the light ends are taken out, K: a hot tank [assumed]."""
CENTRE, WIDTH = 315.0, 45.0
"""Temperatures enter the polynomials as (T - CENTRE)/WIDTH, K."""
COLDEST, HOTTEST = 230.0, 400.0
"""Temperatures between which a boiling point is searched for, K (numerical)."""
ORDER_T, ORDER_W = 4, 4
"""Orders of the polynomials in temperature and in the mass fraction evaporated."""

Polynomial: TypeAlias = list[float]
"""Coefficients of ascending powers."""
Surface: TypeAlias = list[Polynomial]
"""Coefficients of ascending powers of the mass fraction evaporated, each a polynomial in temperature."""


class BubblePressure(NamedTuple):
    """Bubble pressure, Pa, and its slopes by temperature, Pa/K, and by the mass fraction evaporated, Pa."""

    pressure: float
    by_temperature: float
    by_evaporated: float


class Vapour(NamedTuple):
    """Molar mass, kg/mol, and latent heat, J/kg, of the vapour that leaves."""

    molar_mass: float
    latent_heat: float


class Density(NamedTuple):
    """Density, kg/m3, and its slope by temperature, kg/m3/K."""

    value: float
    slope: float


class SaturationFits(NamedTuple):
    """Fits of what a flash at the bubble point gives: logarithm of pressure in Pa, and the vapour's properties."""

    log_pressure: Surface
    molar_mass: Surface
    latent_heat: Surface


class LiquidFits(NamedTuple):
    """Fits of the liquid's heat capacity, J/kg/K, and density, kg/m3."""

    heat_capacity: Polynomial
    density: Polynomial


@dataclass(frozen=True)
class TankFuel:
    """A fuel as the tank sees it: smooth functions of temperature and of the mass fraction w that has evaporated.

    Each is a polynomial fitted to the fuel's own flashes between 270 and 360 K and w up to 0.24.

    Attributes
    ----------
    fuel : Fuel
        The fuel before any of it has evaporated.
    """

    fuel: Fuel

    @cached_property
    def weathered(self) -> list[Fuel]:
        """The fuel at each of `WEATHERED`."""
        return [self.fuel if w == 0.0 else self.fuel.weathered(w, WEATHERING_TEMPERATURE) for w in WEATHERED]

    def at(self, evaporated: PointArray) -> Fuel | FuelPerPoint:
        """Return the fuel that is left at each of some moments; the fresh one where nothing has evaporated at any.

        Between two of `WEATHERED` its tables are parabolas through these and the one before, straight lines up to the
        second: bubble pressures are within 0.05 % of those of the fuel weathered to that fraction, 0.15 % beyond 16 %
        (tested).

        Parameters
        ----------
        evaporated : array (points,)
            Mass fractions that have evaporated; those beyond the last of `WEATHERED` count as that.
        """
        knots = np.array(WEATHERED)
        x = np.clip(evaporated, 0.0, knots[-1])
        low = cells_of(knots, x).low
        members = np.stack([np.maximum(low - 1, 0), low, low + 1])
        a, b, c = knots[members]
        # Lagrange's weights; up to the second stage those of a straight line from the first, at which x is 0.
        first = (x - b) * (x - c) / (np.where(low > 0, a - b, np.inf) * (a - c))
        last = np.where(low > 0, (x - a) * (x - b) / ((c - a) * (c - b)), x / c)
        weight = np.stack([first, 1.0 - first - last, last])
        # What has no weight needs no table.
        nearest = np.take_along_axis(members, np.argmax(weight, axis=0)[None], axis=0)
        used, table = np.unique(np.where(weight != 0.0, members, nearest), return_inverse=True)
        if used.tolist() == [0]:
            return self.fuel
        fuels = tuple(self.weathered[number] for number in used.tolist())
        return FuelPerPoint(fuels, Shares(table.reshape(weight.shape), weight))

    @cached_property
    def _saturation(self) -> SaturationFits:
        temperature = np.linspace(270.0, 360.0, 19)
        log_pressure, molar_mass, latent_heat = [], [], []
        for fuel in self.weathered:
            flash = flashes.saturation_pressure(fuel.mixture, fuel.composition, temperature)
            weight = fuel.mixture.species.molar_mass @ flash.vapour
            heat = (fuel.mixture.species.heat_of_vaporisation(temperature) * flash.vapour).sum(axis=0)
            log_pressure.append(np.log(flash.pressure))
            molar_mass.append(weight)
            latent_heat.append(heat / weight)
        powers_of_t = np.vander((temperature - CENTRE) / WIDTH, ORDER_T + 1, increasing=True)
        powers_of_w = np.vander(np.array(WEATHERED) / WEATHERED[-1], ORDER_W + 1, increasing=True)
        # Least squares in both directions: values = powers_of_w @ coefficients @ powers_of_t.T
        over_w, over_t = np.linalg.pinv(powers_of_w), np.linalg.pinv(powers_of_t)

        def fitted(values: list[FloatArray]) -> Surface:
            coefficients: Surface = (over_w @ np.array(values) @ over_t.T).tolist()
            return coefficients

        return SaturationFits(fitted(log_pressure), fitted(molar_mass), fitted(latent_heat))

    @cached_property
    def _liquid(self) -> LiquidFits:
        temperature = np.linspace(250.0, 360.0, 23)
        x = (temperature - CENTRE) / WIDTH
        capacity = np.polynomial.polynomial.polyfit(x, self.fuel.heat_capacity(temperature), 2)
        density = np.polynomial.polynomial.polyfit(x, self.fuel.density(temperature), 2)
        return LiquidFits(capacity.tolist(), density.tolist())

    def bubble_pressure(self, temperature: float, evaporated: float) -> BubblePressure:
        """Return the bubble pressure and its slopes.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        evaporated : float
            Mass fraction that has evaporated.
        """
        u, v = (temperature - CENTRE) / WIDTH, _reduced(evaporated)
        value = by_u = by_v = 0.0
        for row in reversed(self._saturation.log_pressure):
            inner = inner_slope = 0.0
            for coefficient in reversed(row):
                inner_slope = inner_slope * u + inner
                inner = inner * u + coefficient
            by_v = by_v * v + value
            value = value * v + inner
            by_u = by_u * v + inner_slope
        pressure = math.exp(value)
        return BubblePressure(pressure, pressure * by_u / WIDTH, pressure * by_v / WEATHERED[-1])

    def vapour(self, temperature: float, evaporated: float) -> Vapour:
        """Return the properties of the vapour that leaves the fuel.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        evaporated : float
            Mass fraction that has evaporated.
        """
        u, v = (temperature - CENTRE) / WIDTH, _reduced(evaporated)
        fits = self._saturation
        return Vapour(_surface_value(fits.molar_mass, u, v), _surface_value(fits.latent_heat, u, v))

    def boiling_temperature(self, pressure: float, evaporated: float) -> float:
        """Return the temperature at which the fuel boils, K, by Newton's method on the logarithm of the pressure.

        Parameters
        ----------
        pressure : float
            Pressure over the fuel, Pa absolute.
        evaporated : float
            Mass fraction that has evaporated.
        """
        temperature = CENTRE
        for _ in range(30):
            bubble = self.bubble_pressure(temperature, evaporated)
            step = bubble.pressure * math.log(pressure / bubble.pressure) / bubble.by_temperature
            temperature = min(max(temperature + step, COLDEST), HOTTEST)
            if abs(step) < 1e-7:
                break
        return temperature

    def boiling_temperatures(self, pressure: FloatArray, evaporated: FloatArray | float) -> FloatArray:
        """Return `boiling_temperature` for arrays that broadcast.

        Parameters
        ----------
        pressure : array
            Pressures over the fuel, Pa absolute.
        evaporated : float or array
            Mass fractions that have evaporated.
        """
        pressures, fractions = np.broadcast_arrays(pressure, evaporated)
        pairs = zip(pressures.ravel().tolist(), fractions.ravel().tolist(), strict=True)
        return np.reshape([self.boiling_temperature(p, w) for p, w in pairs], pressures.shape)

    def heat_capacity(self, temperature: float) -> float:
        """Return the heat capacity of the liquid, J/kg/K.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        """
        a, b, c = self._liquid.heat_capacity
        u = (temperature - CENTRE) / WIDTH
        return a + u * (b + u * c)

    def enthalpy(self, temperature: float) -> float:
        """Return the enthalpy of the liquid above that at 315 K, J/kg: the integral of `heat_capacity`.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        """
        a, b, c = self._liquid.heat_capacity
        u = (temperature - CENTRE) / WIDTH
        return WIDTH * u * (a + u * (b / 2.0 + u * c / 3.0))

    def density(self, temperature: float) -> Density:
        """Return the density of the liquid and its slope.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        """
        a, b, c = self._liquid.density
        u = (temperature - CENTRE) / WIDTH
        return Density(a + u * (b + u * c), (b + 2.0 * u * c) / WIDTH)


def _reduced(evaporated: float) -> float:
    """Return a mass fraction evaporated as it enters the fits, 0 to 1."""
    return min(max(evaporated, 0.0), WEATHERED[-1]) / WEATHERED[-1]


def _surface_value(surface: Surface, u: float, v: float) -> float:
    """Return the value of a fit at reduced temperature u and reduced fraction v (Horner's scheme)."""
    value = 0.0
    for row in reversed(surface):
        inner = 0.0
        for coefficient in reversed(row):
            inner = inner * u + coefficient
        value = value * v + inner
    return value


@lru_cache(maxsize=32)
def tank_fuel(fuel: Fuel) -> TankFuel:
    """Return a fuel as the tank sees it; computed once, then kept.

    Parameters
    ----------
    fuel : Fuel
        The fuel before any of it has evaporated.
    """
    return TankFuel(fuel)
