"""Heat through the wall of a line: film inside, wall, film and radiation outside.

The heat conductance of a line per metre has three resistances in series: the liquid's film, the wall, and outside the
air's film in parallel with radiation. In still air the outside film is the greatest of them; in the airstream of a
moving car the wall of a rubber hose is as great.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.constants import AIR_GAS_CONSTANT, GRAVITY, STANDARD_ATMOSPHERE
from fuelsim.laws.friction import LAMINAR_LIMIT, TURBULENT_LIMIT, friction_factor
from fuelsim.typing import FloatArray, FloatLike

__all__ = [
    "STEFAN_BOLTZMANN",
    "UNIFORM_FLUX",
    "UNIFORM_WALL",
    "AirProperties",
    "air_properties",
    "cross_flow_nusselt",
    "exhaust_flux",
    "free_convection_nusselt",
    "internal_coefficient",
    "internal_nusselt",
    "line_conductance",
    "line_conductance_in_air",
    "outside_coefficient",
    "radiation_coefficient",
    "shield_factor",
]

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant, W/m2/K4 (CODATA)."""
UNIFORM_WALL, UNIFORM_FLUX = 3.66, 4.36
"""Nusselt number of developed laminar flow in a tube of one wall temperature, and of one heat flux (Incropera,
DeWitt, Bergman & Lavine, Fundamentals of Heat and Mass Transfer, internal flow; ``ht`` has the same)."""
AIR_HEAT_CAPACITY = 1006.0
"""Isobaric heat capacity of dry air near 300 K, J/kg/K."""
_SURFACE_ITERATIONS = 3


class AirProperties(NamedTuple):
    """Dry air; arrays broadcast from temperature and pressure.

    Attributes
    ----------
    density : float or array
        Density, kg/m3.
    kinematic_viscosity : float or array
        Kinematic viscosity, m2/s.
    conductivity : float or array
        Thermal conductivity, W/m/K.
    prandtl : float or array
        Prandtl number.
    """

    density: FloatLike
    kinematic_viscosity: FloatLike
    conductivity: FloatLike
    prandtl: FloatLike


def air_properties(temperature: FloatLike, pressure: FloatLike = STANDARD_ATMOSPHERE) -> AirProperties:
    """Return the properties of dry air that heat transfer needs.

    Parameters
    ----------
    temperature : float or array
        Temperature of the air, 200 to 1000 K.
    pressure : float or array
        Pressure of the air, Pa absolute.

    Returns
    -------
    AirProperties

    Notes
    -----
    Ideal gas; viscosity 1.458e-6 T^1.5/(T + 110.4) and conductivity 2.64638e-3 T^1.5/(T + 245.4 10^(-12/T)). Source:
    US Standard Atmosphere 1976 [us_standard_atmosphere_1976]; heat capacity 1006 J/kg/K.

    Examples
    --------
    Air of 300 K and 100 kPa has 1.589e-5 m2/s, 0.0263 W/m/K and Pr 0.707 [incropera_2011]; at 101.325 kPa:

    >>> air = air_properties(300.0)
    >>> round(1e5 * float(air.kinematic_viscosity), 2), round(float(air.conductivity), 4), round(float(air.prandtl), 2)
    (1.57, 0.0263, 0.71)
    """
    t = np.asarray(temperature, dtype=float)
    power = t * np.sqrt(t)
    viscosity = 1.458e-6 * power / (t + 110.4)
    conductivity = 2.64638e-3 * power / (t + 245.4 * 10.0 ** (-12.0 / t))
    density = np.asarray(pressure) / (AIR_GAS_CONSTANT * t)
    return AirProperties(density, viscosity / density, conductivity, AIR_HEAT_CAPACITY * viscosity / conductivity)


def internal_nusselt(
    reynolds: FloatLike, prandtl: FloatLike, relative_roughness: FloatLike = 0.0, laminar: float = UNIFORM_WALL
) -> FloatArray:
    """Return the Nusselt number of a liquid in a round line.

    Laminar developed flow below Re 2000, Gnielinski's equation above 4000,
    ``Nu = (f/8)(Re - 1000) Pr / (1 + 12.7 sqrt(f/8) (Pr^(2/3) - 1))``, and between them a mean of the two laws weighted
    by a cubic step in Re, so that neither value nor slope jumps.

    Parameters
    ----------
    reynolds, prandtl : float or array
        Reynolds number, not negative; Prandtl number 0.5 to 2000.
    relative_roughness : float or array
        Roughness over bore.
    laminar : float
        Nusselt number of laminar flow, `UNIFORM_WALL` or `UNIFORM_FLUX`.

    Returns
    -------
    array

    Notes
    -----
    Source: Gnielinski, Int. Chem. Eng. 16 (1976) 359; [gnielinski_1976]; a mean across the transition as in
    Gnielinski, Int. J. Heat Mass Transfer 63 (2013) 134 [gnielinski_2013], who weights the values at Re 2300 and 4000
    straight, here a cubic step from 2000. Accuracy about 10 % when turbulent, unknown in the transition.

    Examples
    --------
    ``ht`` gives 74.02 for Re 1e4, Pr 6 and Colebrook's f of a smooth line, 0.03088:

    >>> round(float(internal_nusselt(1e4, 6.0)), 1)
    74.0
    >>> float(internal_nusselt(500.0, 6.0))
    3.66
    """
    reynolds = np.asarray(reynolds, dtype=float)
    turbulent = np.maximum(reynolds, LAMINAR_LIMIT)
    eighth = friction_factor(turbulent, relative_roughness) / 8.0
    # The square of a cube root, because a power costs more.
    two_thirds = np.square(np.cbrt(prandtl))
    gnielinski = eighth * (turbulent - 1000.0) * prandtl / (1.0 + 12.7 * np.sqrt(eighth) * (two_thirds - 1.0))
    t = np.clip((reynolds - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT), 0.0, 1.0)
    weight = t * t * (3.0 - 2.0 * t)
    return laminar + weight * (gnielinski - laminar)


def internal_coefficient(
    mass_flow: FloatLike,
    bore: FloatLike,
    viscosity: FloatLike,
    conductivity: FloatLike,
    heat_capacity: FloatLike,
    relative_roughness: FloatLike = 0.0,
) -> FloatArray:
    """Return the film coefficient of a liquid in a round line; at rest it is that of laminar flow.

    Parameters
    ----------
    mass_flow : float or array
        Mass flow, of either direction, kg/s.
    bore : float or array
        Bore of the line, m.
    viscosity : float or array
        Dynamic viscosity of the liquid, Pa s.
    conductivity : float or array
        Thermal conductivity of the liquid, W/m/K.
    heat_capacity : float or array
        Heat capacity of the liquid, J/kg/K.
    relative_roughness : float or array
        Roughness over bore.

    Returns
    -------
    array
        W/m2/K.

    Examples
    --------
    ``ht`` gives 1329 (Re 8706, Gnielinski):

    >>> round(float(internal_coefficient(0.02, 0.0065, 4.5e-4, 0.12, 2100.0)), -1)
    1330.0
    """
    reynolds = 4.0 * np.abs(mass_flow) / (np.pi * np.asarray(bore) * viscosity)
    prandtl = np.asarray(heat_capacity) * viscosity / conductivity
    return internal_nusselt(reynolds, prandtl, relative_roughness) * conductivity / bore


def cross_flow_nusselt(reynolds: FloatLike, prandtl: FloatLike) -> FloatArray:
    """Return the mean Nusselt number of a cylinder across an airstream.

    Parameters
    ----------
    reynolds, prandtl : float or array
        Reynolds number with the outside diameter and Prandtl number, at film temperature; Re Pr above 0.2.

    Returns
    -------
    array

    Notes
    -----
    Source: Churchill & Bernstein, J. Heat Transfer 99 (1977) 300. Within 20 to 30 % of measurements.

    Examples
    --------
    Bergman et al., example 7.3 [incropera_2011]:

    >>> round(float(cross_flow_nusselt(6071.0, 0.7)), 2)
    40.64
    """
    reynolds = np.asarray(reynolds, dtype=float)
    front = 0.62 * np.sqrt(reynolds) * np.cbrt(prandtl) / (1.0 + (0.4 / np.asarray(prandtl)) ** (2.0 / 3.0)) ** 0.25
    return 0.3 + front * (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8


def free_convection_nusselt(rayleigh: FloatLike, prandtl: FloatLike) -> FloatArray:
    """Return the mean Nusselt number of a horizontal cylinder in still air.

    Parameters
    ----------
    rayleigh : float or array
        Rayleigh number with the outside diameter, not negative.
    prandtl : float or array
        Prandtl number.

    Returns
    -------
    array

    Notes
    -----
    Source: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049.

    Examples
    --------
    Bergman et al., example 9.2 [incropera_2011]:

    >>> round(float(free_convection_nusselt(2.63e9 * 0.69, 0.69)), 2)
    139.13
    """
    damping = (1.0 + (0.559 / np.asarray(prandtl)) ** 0.5625) ** (8.0 / 27.0)
    return np.square(0.60 + 0.387 * np.asarray(rayleigh, dtype=float) ** (1.0 / 6.0) / damping)


def radiation_coefficient(
    emissivity: FloatLike, surface_temperature: FloatLike, surroundings_temperature: FloatLike
) -> FloatArray:
    """Return radiation to wide surroundings as a film coefficient, e sigma (T^2 + Ts^2)(T + Ts).

    Parameters
    ----------
    emissivity : float or array
        Emissivity of the surface: rubber and paint 0.9, rusty steel 0.7 to 0.8, plated steel 0.23 to 0.28
        [emissivity_tables].
    surface_temperature, surroundings_temperature : float or array
        Temperatures T and Ts, K.

    Returns
    -------
    array
        W/m2/K.

    Examples
    --------
    >>> round(float(radiation_coefficient(0.9, 320.0, 330.0)), 2)
    7.01
    """
    t, ts = np.asarray(surface_temperature, dtype=float), np.asarray(surroundings_temperature, dtype=float)
    result: FloatArray = emissivity * STEFAN_BOLTZMANN * (t * t + ts * ts) * (t + ts)
    return result


def outside_coefficient(
    diameter: FloatLike,
    air_speed: FloatLike,
    surface_temperature: FloatLike,
    air_temperature: FloatLike,
    emissivity: FloatLike = 0.9,
    pressure: FloatLike = STANDARD_ATMOSPHERE,
) -> FloatArray:
    """Return film and radiation coefficient together on the outside of a line.

    Free convection and cross flow join by the third power, ``Nu^3 = Nu_free^3 + Nu_forced^3`` (Churchill & Usagi, AIChE
    J. 18 (1972) 1121) [churchill_usagi_1972] [churchill_1977], so still air and airstream meet without a corner.

    Parameters
    ----------
    diameter : float or array
        Outside diameter of the line, m.
    air_speed : float or array
        Speed of the air across the line, m/s, not negative.
    surface_temperature, air_temperature : float or array
        Temperatures of the line's surface and of the air, which is also that of the surroundings, K.
    emissivity : float or array
        Emissivity of the surface.
    pressure : float or array
        Pressure of the air, Pa absolute.

    Returns
    -------
    array
        W/m2/K.

    Examples
    --------
    With the air of Incropera's table at 325 K the functions of ``ht`` give 12.8 and 68.8:

    >>> [round(float(outside_coefficient(0.0147, speed, 320.0, 330.0))) for speed in (0.0, 5.0)]
    [13, 69]
    """
    film = 0.5 * (np.asarray(surface_temperature) + air_temperature)
    air = air_properties(film, pressure)
    reynolds = np.asarray(air_speed) * diameter / air.kinematic_viscosity
    difference = np.abs(np.asarray(surface_temperature) - air_temperature)
    grashof = GRAVITY / film * difference * np.asarray(diameter) ** 3 / air.kinematic_viscosity**2
    free = free_convection_nusselt(grashof * air.prandtl, air.prandtl)
    forced = cross_flow_nusselt(reynolds, air.prandtl)
    # At rest the cross-flow law leaves the 0.3 of conduction, which free convection already includes.
    both = np.cbrt(free**3 + np.maximum(forced - 0.3, 0.0) ** 3)
    radiation = radiation_coefficient(emissivity, surface_temperature, air_temperature)
    result: FloatArray = both * air.conductivity / diameter + radiation
    return result


def line_conductance(
    inside: FloatLike, outside: FloatLike, bore: FloatLike, outside_diameter: FloatLike, wall_conductivity: FloatLike
) -> FloatArray:
    """Return the heat conductance of a line per metre of its length.

    ``1/U' = 1/(pi d h_i) + ln(D/d)/(2 pi k) + 1/(pi D h_o)``.

    Parameters
    ----------
    inside, outside : float or array
        Film coefficients h_i and h_o, W/m2/K.
    bore, outside_diameter : float or array
        Diameters d and D, m.
    wall_conductivity : float or array
        Thermal conductivity k of the wall, W/m/K: rubber 0.23 to 0.25, nylon 0.25, PTFE 0.25 [en_12524],
        steel 50, aluminium 200.

    Returns
    -------
    array
        W/m/K.

    Notes
    -----
    Source: radial conduction and films in series, Incropera et al., one-dimensional steady conduction.

    Examples
    --------
    A rubber hose 8.7/14.7 mm in still air:

    >>> round(float(line_conductance(800.0, 12.0, 0.0087, 0.0147, 0.2)), 2)
    0.44
    """
    bore, outside_diameter = np.asarray(bore, dtype=float), np.asarray(outside_diameter, dtype=float)
    resistance = 1.0 / (np.pi * bore * inside) + 1.0 / (np.pi * outside_diameter * outside)
    result: FloatArray = 1.0 / (resistance + np.log(outside_diameter / bore) / (2.0 * np.pi * wall_conductivity))
    return result


def line_conductance_in_air(
    inside: FloatLike,
    fuel_temperature: FloatLike,
    air_temperature: FloatLike,
    air_speed: FloatLike,
    bore: FloatLike,
    outside_diameter: FloatLike,
    wall_conductivity: FloatLike,
    emissivity: FloatLike = 0.9,
    pressure: FloatLike = STANDARD_ATMOSPHERE,
) -> FloatArray:
    """Return the heat conductance of a line per metre with the outside film at the surface temperature that it causes.

    Parameters
    ----------
    inside : float or array
        Film coefficient of the fuel, W/m2/K.
    fuel_temperature, air_temperature : float or array
        Temperatures of the fuel in the line and of the air around it, K.
    air_speed : float or array
        Speed of the air across the line, m/s.
    bore, outside_diameter : float or array
        Diameters of the line, m.
    wall_conductivity : float or array
        Thermal conductivity of the wall, W/m/K.
    emissivity : float or array
        Emissivity of the outside.
    pressure : float or array
        Pressure of the air, Pa absolute.

    Returns
    -------
    array
        W/m/K.

    Examples
    --------
    A rubber hose in still air and in an airstream of 4 m/s:

    >>> still, moving = line_conductance_in_air(900.0, 318.0, 331.0, np.array([0.0, 4.0]), 0.0087, 0.0147, 0.2)
    >>> round(float(still), 1), round(float(moving), 1)
    (0.5, 1.2)
    """
    excess = np.asarray(fuel_temperature, dtype=float) - air_temperature
    surface = air_temperature + 0.5 * excess

    def conductance_and_film(surface: FloatArray) -> tuple[FloatArray, FloatArray]:
        outside = outside_coefficient(outside_diameter, air_speed, surface, air_temperature, emissivity, pressure)
        return line_conductance(inside, outside, bore, outside_diameter, wall_conductivity), outside

    # The outside film hardly depends on the surface temperature: three fixed-point iterations converge within 1e-3.
    conductance, outside = conductance_and_film(surface)
    for _ in range(_SURFACE_ITERATIONS - 1):
        surface = air_temperature + conductance * excess / (np.pi * outside_diameter * outside)
        conductance, outside = conductance_and_film(surface)
    return conductance


def exhaust_flux(
    exhaust_temperature: FloatLike,
    surface_temperature: FloatLike,
    view_factor: FloatLike,
    *,
    exhaust_emissivity: FloatLike = 0.8,
    surface_emissivity: FloatLike = 0.9,
    shields: FloatLike = 0,
    shield_emissivity: FloatLike = 0.2,
) -> FloatArray:
    """Return the radiation from an exhaust onto a line or tank, per area that faces it.

    ``q = F sigma (Te^4 - T^4) / (1/e_e + 1/e_s - 1 + n (2/e_f - 1))`` for n thin shields between: the exchange of
    parallel surfaces times the view factor F of the exhaust.

    Parameters
    ----------
    exhaust_temperature, surface_temperature : float or array
        Temperatures Te and T, K.
    view_factor : float or array
        View factor F from the facing side to the exhaust, 0 to 1.
    exhaust_emissivity, surface_emissivity, shield_emissivity : float or array
        Emissivities e_e, e_s and e_f: scaled steel 0.8, rubber 0.9, foil that has seen some service 0.2
        [emissivity_tables].
    shields : int or array
        Number n of foil shields.

    Returns
    -------
    array
        W/m2.

    Notes
    -----
    Source: radiation shields between parallel surfaces, Incropera et al., radiation exchange between surfaces.

    Examples
    --------
    An exhaust of 400 degC that fills a fifth of the view, bare and behind one foil; 0.2 is the emissivity of
    foil that has seen some service [emissivity_tables]; behind new foil of 0.04 it is 97 % less:

    >>> bare, shielded = exhaust_flux(673.0, 330.0, 0.2, shields=np.array([0, 1]))
    >>> round(float(bare)), round(1.0 - float(shielded / bare), 2)
    (1610, 0.87)
    """
    resistance = 1.0 / np.asarray(exhaust_emissivity) + 1.0 / np.asarray(surface_emissivity) - 1.0
    difference = np.asarray(exhaust_temperature, dtype=float) ** 4 - np.asarray(surface_temperature, dtype=float) ** 4
    transmitted = shield_factor(shields, exhaust_emissivity, surface_emissivity, shield_emissivity)
    result: FloatArray = transmitted * view_factor * STEFAN_BOLTZMANN * difference / resistance
    return result


def shield_factor(
    shields: FloatLike,
    exhaust_emissivity: FloatLike = 0.8,
    surface_emissivity: FloatLike = 0.9,
    shield_emissivity: FloatLike = 0.2,
) -> FloatArray:
    """Return the transmitted share of radiation with thin shields between two surfaces; see `exhaust_flux`.

    Parameters
    ----------
    shields : int or array
        Number of shields.
    exhaust_emissivity, surface_emissivity, shield_emissivity : float or array
        Emissivities of the two surfaces and of both sides of each shield.

    Returns
    -------
    array
        From 0 to 1.

    Examples
    --------
    >>> float(shield_factor(1, 1.0, 1.0, 1.0))
    0.5
    """
    bare = 1.0 / np.asarray(exhaust_emissivity) + 1.0 / np.asarray(surface_emissivity) - 1.0
    result: FloatArray = bare / (bare + np.asarray(shields) * (2.0 / np.asarray(shield_emissivity) - 1.0))
    return result
