"""The tank over time: heat, mass, air and vapour above the fuel, and the light ends that leave.

Liquid and vapour space are in equilibrium. While the tank is cool, warming drives a little vapour out with the air;
as the bubble pressure nears the tank's pressure the same balance needs ever more vapour per kelvin, until all heat goes
into boiling. Nothing switches, and a vented tank cannot pass its boiling point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.fuel.molecules.species import GAS_CONSTANT
from fuelsim.fuel.phase_equilibrium import flashes

if TYPE_CHECKING:
    from fuelsim.fuel.fuel import Fuel
    from fuelsim.parts.tank_parts import TankVent

__all__ = [
    "TankFuel",
    "TankRates",
    "TankState",
    "tank_fuel",
    "tank_pressure",
    "tank_rates",
    "vapour_space",
    "vent_outflow",
]

WEATHERED = (0.0, 0.02, 0.05, 0.10, 0.16, 0.24)
"""Mass fractions evaporated at which the fuel's boiling is computed."""
WEATHERING_TEMPERATURE = 318.15
CENTRE, WIDTH = 315.0, 45.0
ORDER_T, ORDER_W = 4, 4
DISCHARGE = 0.6
SMALL_DIFFERENCE = 2.0
"""Pa below which the vent's square root is rounded off."""
AIR_MOLAR_MASS = 0.02896


@dataclass(frozen=True)
class TankFuel:
    """A fuel as the tank sees it: smooth functions of temperature and of the mass fraction w that has evaporated.

    Each is a polynomial fitted to the fuel's own flashes between 270 and 360 K and w up to 0.24.
    """

    fuel: Fuel

    @cached_property
    def weathered(self) -> list[Fuel]:
        """The fuel at each of `WEATHERED`."""
        return [self.fuel if w == 0.0 else self.fuel.weathered(w, WEATHERING_TEMPERATURE) for w in WEATHERED]

    @cached_property
    def _fits(self) -> tuple[Any, Any, Any]:
        """Coefficients (w, T) of ln bubble pressure, vapour molar mass and latent heat."""
        temperature = np.linspace(270.0, 360.0, 19)
        log_p, mass, latent = [], [], []
        for fuel in self.weathered:
            result = flashes.saturation_pressure(fuel.mixture, fuel.composition, temperature)
            weight = fuel.mixture.species.molar_mass @ result.vapour
            heat = (fuel.mixture.species.heat_of_vaporisation(temperature) * result.vapour).sum(axis=0)
            log_p.append(np.log(result.pressure))
            mass.append(weight)
            latent.append(heat / weight)
        x = (temperature - CENTRE) / WIDTH
        vander_t = np.vander(x, ORDER_T + 1, increasing=True)
        vander_w = np.vander(np.array(WEATHERED) / WEATHERED[-1], ORDER_W + 1, increasing=True)
        left, right = np.linalg.pinv(vander_w), np.linalg.pinv(vander_t)
        return tuple((left @ np.array(values) @ right.T).tolist() for values in (log_p, mass, latent))

    @cached_property
    def _liquid(self) -> tuple[Any, Any]:
        temperature = np.linspace(250.0, 360.0, 23)
        x = (temperature - CENTRE) / WIDTH
        capacity = np.polynomial.polynomial.polyfit(x, self.fuel.heat_capacity(temperature), 2)
        density = np.polynomial.polynomial.polyfit(x, self.fuel.density(temperature), 2)
        return capacity.tolist(), density.tolist()

    def boiling(self, temperature: float, evaporated: float) -> tuple[float, float, float]:
        """Return the bubble pressure, Pa, and its slopes by temperature and by w."""
        u, v = (temperature - CENTRE) / WIDTH, min(max(evaporated, 0.0), WEATHERED[-1]) / WEATHERED[-1]
        value = slope_t = slope_w = 0.0
        for row in reversed(self._fits[0]):
            inner = inner_slope = 0.0
            for coefficient in reversed(row):
                inner_slope = inner_slope * u + inner
                inner = inner * u + coefficient
            slope_w = slope_w * v + value
            value = value * v + inner
            slope_t = slope_t * v + inner_slope
        pressure = math.exp(value)
        return pressure, pressure * slope_t / WIDTH, pressure * slope_w / WEATHERED[-1]

    def vapour(self, temperature: float, evaporated: float) -> tuple[float, float]:
        """Return molar mass, kg/mol, and latent heat, J/kg, of the vapour that leaves."""
        u, v = (temperature - CENTRE) / WIDTH, min(max(evaporated, 0.0), WEATHERED[-1]) / WEATHERED[-1]
        found = []
        for fit in self._fits[1:]:
            value = 0.0
            for row in reversed(fit):
                inner = 0.0
                for coefficient in reversed(row):
                    inner = inner * u + coefficient
                value = value * v + inner
            found.append(value)
        return found[0], found[1]

    def boiling_temperature(self, pressure: Any, evaporated: float) -> Any:
        """Return the temperature at which it boils under a pressure, K; arrays of pressure are answered one by one."""
        shape = np.shape(pressure)
        found = []
        for value in np.ravel(pressure):
            t = CENTRE
            for _ in range(30):
                p, slope, _ = self.boiling(t, evaporated)
                step = p * math.log(value / p) / slope
                t = min(max(t + step, 230.0), 400.0)
                if abs(step) < 1e-7:
                    break
            found.append(t)
        return np.reshape(found, shape) if shape else found[0]

    def heat_capacity(self, temperature: float) -> float:
        """J/kg/K."""
        a, b, c = self._liquid[0]
        u = (temperature - CENTRE) / WIDTH
        return float(a + u * (b + u * c))

    def enthalpy(self, temperature: float) -> float:
        """J/kg above 315 K: the integral of `heat_capacity`."""
        a, b, c = self._liquid[0]
        u = (temperature - CENTRE) / WIDTH
        return float(WIDTH * u * (a + u * (b / 2.0 + u * c / 3.0)))

    def density(self, temperature: float) -> tuple[float, float]:
        """Return the density, kg/m3, and its slope by temperature."""
        a, b, c = self._liquid[1]
        u = (temperature - CENTRE) / WIDTH
        return a + u * (b + u * c), (b + 2.0 * u * c) / WIDTH


@lru_cache(maxsize=32)
def tank_fuel(fuel: Fuel) -> TankFuel:
    """Return a fuel as the tank sees it; computed once, then kept."""
    return TankFuel(fuel)


def vent_outflow(gauge_pressure: float, gas_density: float, vent: TankVent) -> float:
    """Return the volume flow out of the vent, m3/s, negative inwards: an orifice beyond the valves' opening pressures.

    Parameters
    ----------
    gauge_pressure : float
        Of the vapour space, Pa.
    gas_density : float
        kg/m3.
    vent : TankVent

    Examples
    --------
    A hole of 2 mm lets 100 L/h in at -130 Pa:

    >>> from fuelsim.parts.tank_parts import TankVent
    >>> round(vent_outflow(-130.0, 1.2, TankVent(bore="2 mm")) * 3.6e6, -1)
    -100.0
    """
    beyond = max(gauge_pressure - vent.pressure_opening, 0.0) + min(gauge_pressure + vent.vacuum_opening, 0.0)
    # sqrt(|x|) sign(x), rounded off at the origin
    root = beyond / math.sqrt(math.sqrt(beyond * beyond + SMALL_DIFFERENCE * SMALL_DIFFERENCE))
    area = 0.25 * math.pi * vent.bore**2
    return DISCHARGE * area * math.sqrt(2.0 / gas_density) * root


@dataclass(frozen=True)
class TankState:
    """What is in the tank.

    Attributes
    ----------
    temperature : float
        K.
    liquid : float
        kg.
    air : float
        Moles in the vapour space.
    evaporated : float
        Mass fraction w of the present fuel that has evaporated.
    """

    temperature: float
    liquid: float
    air: float
    evaporated: float


@dataclass(frozen=True)
class TankRates:
    """How fast the tank changes.

    Attributes
    ----------
    temperature : float
        K/s.
    evaporation : float
        kg/s from the liquid into the vapour space; negative where vapour condenses.
    vented : float
        kg/s of fuel vapour that leaves by the vent.
    air : float
        mol/s of air into the vapour space.
    evaporated : float
        1/s, change of w.
    pressure, vapour_pressure, latent_heat, space : float
        Pa absolute, Pa, J/kg, m3.
    """

    temperature: float
    evaporation: float
    vented: float
    air: float
    evaporated: float
    pressure: float
    vapour_pressure: float
    latent_heat: float
    space: float


def vapour_space(fuel: TankFuel, volume: float, temperature: float, liquid: float) -> float:
    """Return the volume above the fuel, m3; at least one per cent of the tank, where a full tank spills."""
    return max(volume - liquid / fuel.density(temperature)[0], 0.01 * volume)


def tank_pressure(fuel: TankFuel, state: TankState, volume: float) -> float:
    """Return the pressure in the vapour space, Pa absolute: air and fuel vapour share it."""
    space = vapour_space(fuel, volume, state.temperature, state.liquid)
    vapour = fuel.boiling(state.temperature, state.evaporated)[0]
    return state.air * GAS_CONSTANT * state.temperature / space + vapour


def tank_rates(
    fuel: TankFuel,
    state: TankState,
    volume: float,
    vent: TankVent,
    atmospheric_pressure: float,
    heat: float,
    consumption: float,
) -> TankRates:
    """Return how fast the tank changes under a heat flow and a consumption.

    Unknown are the rates of temperature and evaporation; known that the vapour space stays saturated, that the vent
    passes the gas it holds, and that the heat either warms the fuel or evaporates it.

    Parameters
    ----------
    fuel : TankFuel
    state : TankState
    volume : float
        Of the whole tank, m3.
    vent : TankVent
    atmospheric_pressure : float
        Pa absolute.
    heat : float
        Into the fuel by walls, returning fuel and radiation, W.
    consumption : float
        Of the engine, kg/s.

    Notes
    -----
    With n = p_v V/(R T) moles of vapour over m kg of liquid, M the vapour's molar mass and F moles of gas vented,
    E = dn/dt + F p_v/p and m c dT/dt = Q - L M E. Source: balances of mole and energy (exact for an ideal gas, the
    vapour space's own heat capacity left out).
    """
    t, m, w = state.temperature, state.liquid, state.evaporated
    thermal = GAS_CONSTANT * t
    rho, rho_slope = fuel.density(t)
    space = vapour_space(fuel, volume, t, m)
    vapour, slope_t, slope_w = fuel.boiling(t, w)
    molar_mass, latent = fuel.vapour(t, w)
    moles = vapour * space / thermal
    pressure = state.air * thermal / space + vapour
    share = vapour / pressure
    gas_density = pressure / thermal * (share * molar_mass + (1.0 - share) * AIR_MOLAR_MASS)
    outward = vent_outflow(pressure - atmospheric_pressure, gas_density, vent)
    vented_moles = max(outward, 0.0) * pressure / thermal
    air_in = max(-outward, 0.0) * atmospheric_pressure / thermal
    # dn/dt = by_t dT/dt + by_w dw/dt + vapour/thermal (consumption + M E)/rho
    by_t = space * slope_t / thermal - moles / t + vapour * m * rho_slope / (thermal * rho * rho)
    by_w = space * slope_w / thermal
    capacity = m * fuel.heat_capacity(t)
    follows = by_t * latent / capacity - by_w * (1.0 - w) / m - vapour / (thermal * rho)
    evaporation = (by_t * heat / capacity + vapour / thermal * consumption / rho + vented_moles * share) / (
        1.0 / molar_mass + follows
    )
    return TankRates(
        temperature=(heat - latent * evaporation) / capacity,
        evaporation=evaporation,
        vented=vented_moles * share * molar_mass,
        air=air_in - vented_moles * (1.0 - share),
        evaporated=(1.0 - w) * evaporation / m,
        pressure=pressure,
        vapour_pressure=vapour,
        latent_heat=latent,
        space=space,
    )
