"""The tank over time: heat, mass, air and vapour above the fuel, and the light ends that leave.

Liquid and vapour space are in equilibrium. While the tank is cool, warming drives a little vapour out with the air; as
the bubble pressure nears the tank's pressure the same balance needs ever more vapour per kelvin, until all heat goes
into boiling. No switch is needed, and a vented tank cannot pass its boiling point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fuelsim.constants import GAS_CONSTANT
from fuelsim.fuel.molecules.dissolved_air import AIR_MOLAR_MASS
from fuelsim.transients.tank_fuel import TankFuel

if TYPE_CHECKING:
    from fuelsim.parts.tank_parts import TankVent

__all__ = ["TankRates", "TankState", "tank_pressure", "tank_rates", "vapour_space", "vent_outflow"]

DISCHARGE = 0.6
"""Discharge coefficient of the vent, a sharp-edged orifice."""
ROUNDED_DIFFERENCE = 2.0
"""Pressure difference below which the vent's square root is rounded off, Pa (numerical)."""
LEAST_LIQUID, LEAST_AIR = 0.01, 1e-9
"""Liquid, kg, and air, mol, that a tank counts as holding at least (numerical: a trial step may overshoot)."""
LEAST_VAPOUR_SPACE = 0.01
"""Vapour space of a tank that is full, as a share of the tank: beyond it the tank spills."""


@dataclass(frozen=True)
class TankState:
    """What is in the tank.

    Attributes
    ----------
    temperature : float
        Temperature of the fuel, K.
    liquid : float
        Mass of liquid fuel, kg.
    air : float
        Amount of air in the vapour space, mol.
    evaporated : float
        Mass fraction w of the present fuel that has evaporated.
    """

    temperature: float
    liquid: float
    air: float
    evaporated: float

    @classmethod
    def within_bounds(cls, temperature: float, liquid: float, air: float, evaporated: float) -> TankState:
        """Return the state of a trial step of the integration, which may overshoot the end of the fuel or of the air.

        Parameters
        ----------
        temperature, liquid, air, evaporated : float
            As the attributes.
        """
        return cls(temperature, max(liquid, LEAST_LIQUID), max(air, LEAST_AIR), evaporated)


@dataclass(frozen=True)
class TankRates:
    """How fast the tank changes.

    Attributes
    ----------
    temperature : float
        Rate of the fuel's temperature, K/s.
    evaporation : float
        Mass flow from the liquid into the vapour space, kg/s; negative where vapour condenses.
    vented : float
        Mass flow of fuel vapour that leaves by the vent, kg/s.
    air : float
        Flow of air into the vapour space, mol/s.
    evaporated : float
        Rate of the mass fraction w, 1/s.
    latent_heat : float
        Latent heat of the vapour that forms, J/kg.
    """

    temperature: float
    evaporation: float
    vented: float
    air: float
    evaporated: float
    latent_heat: float


def vent_outflow(gauge_pressure: float, gas_density: float, vent: TankVent) -> float:
    """Return the volume flow out of the vent, m3/s, negative inwards: an orifice beyond the valves' opening pressures.

    Parameters
    ----------
    gauge_pressure : float
        Pressure of the vapour space above the atmosphere, Pa.
    gas_density : float
        Density of the gas that flows, kg/m3.
    vent : TankVent
        Bore and opening pressures of the vent.

    Notes
    -----
    Q = C A sqrt(2 |dp| / rho) sign(dp), the flow through a sharp-edged orifice, with the root rounded off below 2 Pa.

    Examples
    --------
    A hole of 2 mm lets 100 L/h in at -130 Pa:

    >>> from fuelsim.parts.tank_parts import TankVent
    >>> round(vent_outflow(-130.0, 1.2, TankVent(bore="2 mm")) * 3.6e6, -1)
    -100.0
    """
    beyond = float(max(gauge_pressure - vent.pressure_opening, 0.0) + min(gauge_pressure + vent.vacuum_opening, 0.0))
    signed_root = beyond / math.sqrt(math.hypot(beyond, ROUNDED_DIFFERENCE))
    area = 0.25 * math.pi * float(vent.bore) ** 2
    return DISCHARGE * area * math.sqrt(2.0 / gas_density) * signed_root


def vapour_space(fuel: TankFuel, volume: float, temperature: float, liquid: float) -> float:
    """Return the volume above the fuel, m3; at least one per cent of the tank, where a full tank spills.

    Parameters
    ----------
    fuel : TankFuel
        The fuel.
    volume : float
        Volume of the whole tank, m3.
    temperature : float
        Temperature of the fuel, K.
    liquid : float
        Mass of liquid fuel, kg.
    """
    return max(volume - liquid / fuel.density(temperature).value, LEAST_VAPOUR_SPACE * volume)


def tank_pressure(fuel: TankFuel, state: TankState, volume: float) -> float:
    """Return the pressure in the vapour space, Pa absolute: the partial pressures of air and of saturated fuel vapour.

    Parameters
    ----------
    fuel : TankFuel
        The fuel.
    state : TankState
        What is in the tank.
    volume : float
        Volume of the whole tank, m3.
    """
    space = vapour_space(fuel, volume, state.temperature, state.liquid)
    vapour = fuel.bubble_pressure(state.temperature, state.evaporated).pressure
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

    The unknowns are the rates of temperature and evaporation. Known are that the vapour space stays saturated, that the
    vent passes the gas it holds, and that the heat either warms the fuel or evaporates it.

    Parameters
    ----------
    fuel : TankFuel
        The fuel.
    state : TankState
        What is in the tank.
    volume : float
        Volume of the whole tank, m3.
    vent : TankVent
        Bore and opening pressures of the vent.
    atmospheric_pressure : float
        Pressure outside the vent, Pa absolute.
    heat : float
        Heat flow into the fuel by walls, returning fuel and radiation, W.
    consumption : float
        Mass flow that the engine burns, kg/s.

    Notes
    -----
    With n = p_v V/(R T) moles of vapour over m kg of liquid, M the vapour's molar mass, F moles of gas vented and E
    moles evaporated per second: E = dn/dt + F p_v/p and m c dT/dt = Q - L M E. Source: balances of mole and energy
    (exact for an ideal gas, the vapour space's own heat capacity left out).
    """
    t, m, w = state.temperature, state.liquid, state.evaporated
    thermal = GAS_CONSTANT * t
    rho, rho_slope = fuel.density(t)
    space = vapour_space(fuel, volume, t, m)
    bubble = fuel.bubble_pressure(t, w)
    vapour = bubble.pressure
    molar_mass, latent = fuel.vapour(t, w)
    moles = vapour * space / thermal
    pressure = state.air * thermal / space + vapour
    vapour_fraction = vapour / pressure
    gas_density = pressure / thermal * (vapour_fraction * molar_mass + (1.0 - vapour_fraction) * AIR_MOLAR_MASS)
    outward = vent_outflow(pressure - atmospheric_pressure, gas_density, vent)
    vented_moles = max(outward, 0.0) * pressure / thermal
    air_in = max(-outward, 0.0) * atmospheric_pressure / thermal
    # dn/dt = moles_by_t dT/dt + moles_by_w dw/dt + vapour/thermal (consumption + M E)/rho
    moles_by_t = space * bubble.by_temperature / thermal - moles / t + vapour * m * rho_slope / (thermal * rho * rho)
    moles_by_w = space * bubble.by_evaporated / thermal
    capacity = m * fuel.heat_capacity(t)
    # Terms of dn/dt that are proportional to the evaporation itself: cooling, weathering and the room it leaves.
    by_evaporation = moles_by_t * latent / capacity - moles_by_w * (1.0 - w) / m - vapour / (thermal * rho)
    evaporation = (
        moles_by_t * heat / capacity + vapour / thermal * consumption / rho + vented_moles * vapour_fraction
    ) / (1.0 / molar_mass + by_evaporation)
    return TankRates(
        temperature=(heat - latent * evaporation) / capacity,
        evaporation=evaporation,
        vented=vented_moles * vapour_fraction * molar_mass,
        air=air_in - vented_moles * (1.0 - vapour_fraction),
        evaporated=(1.0 - w) * evaporation / m,
        latent_heat=latent,
    )
