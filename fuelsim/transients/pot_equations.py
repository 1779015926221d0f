"""How tank and pots change at a moment of a drive: balances of mass and heat of each vessel.

The network between the vessels is in its steady state at every moment, with the temperatures that tank and pots have
then. A pot's pressure is that of the tank's vapour space whatever its level: the head of its own depth, 1 to 2 kPa, is
left out, and so is the fuel vapour in the air above its fuel. What boils off in a pot leaves by the vent.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from fuelsim.constants import GAS_CONSTANT
from fuelsim.transients.heat_sources import HeatSources
from fuelsim.transients.pot_flows import VesselFlows, at_rest, overflow_flows
from fuelsim.transients.tank import TankState, tank_rates, vapour_space
from fuelsim.transients.tank_equations import POT_BOILING_CONDUCTANCE, PotVector, TankVector

if TYPE_CHECKING:
    from fuelsim.car.heat_parts import Pot
    from fuelsim.transients.pot_table import PotTable
    from fuelsim.transients.tank_equations import Around, TankEquations

__all__ = ["VesselRates", "vessel_rates"]


class VesselRates(NamedTuple):
    """Time derivatives of the state of the tank and of each pot."""

    tank: TankVector[float]
    pots: list[PotVector[float]]


class _Boiling(NamedTuple):
    """What boils off in a pot, kg/s, and its latent heat, J/kg."""

    mass: float
    latent_heat: float


def vessel_rates(
    equations: TankEquations,
    index: int,
    table: PotTable | None,
    time: float,
    state: TankVector[float],
    pots: list[PotVector[float]],
    around: Around,
) -> VesselRates:
    """Return the time derivative of the state of tank and pots.

    Parameters
    ----------
    equations : TankEquations
        The car in its world.
    index : int
        Number of the phase.
    table : PotTable or None
        Plumbing of that phase; None while the engine stands.
    time : float
        Time since the phase began, s.
    state : TankVector
        The state of the tank.
    pots : list of PotVector
        That of each pot.
    around : Around
        The air.

    Notes
    -----
    Of each vessel dm/dt = sum of inflows - sum of outflows and m dh/dt = sum of m_in (h_in - h) + Q - L m_boiled; a
    pot runs over as in `overflow_flows`. The ledger books heat that the plumbing brings as `returned`: all inflows
    above the temperature of their vessel, and what moves from one vessel to another by its difference of enthalpy.
    """
    tank, fuel, phase = equations.car.tank, equations.fuel, equations.world.schedule.phases[index]
    temperature, evaporated = state.temperature, state.evaporated
    contents = TankState.within_bounds(temperature, state.liquid, state.air, evaporated)
    space = vapour_space(fuel, tank.volume, temperature, contents.liquid)
    pressure = contents.air * GAS_CONSTANT * temperature / space
    pressure += fuel.bubble_pressure(temperature, evaporated).pressure
    flows: VesselFlows[float] = at_rest(len(pots))
    if table is not None:
        gauge = pressure - around.pressure
        flows = table.at(time, temperature, [pot.temperature for pot in pots], gauge, evaporated)
    share = float(phase.lift_share)
    levels = [equations.level(planned, pot) for planned, pot in zip(equations.pots, pots, strict=True)]
    overflows = [(float(flow.gain), float(flow.over)) for flow in overflow_flows(equations.pots, flows, levels, share)]
    enthalpies = [fuel.enthalpy(pot.temperature) for pot in pots]
    of_tank = fuel.enthalpy(temperature)

    supply = flows.supply - (1.0 - share) * sum(own.lifted for own in flows.pots)
    wall = equations.wall_conductance(phase) * (around.underfloor - temperature)
    radiated = tank.radiated_heat if table is not None else 0.0
    into_tank, into_pots = flows.returned_heat, [share * own.lifted_heat + own.others_heat for own in flows.pots]
    returned = into_tank + sum(into_pots)
    loss, pot_wall, latent, carried, boiled_off = supply - flows.returned, 0.0, 0.0, flows.burnt * of_tank, 0.0
    for planned, own, enthalpy, (_, over) in zip(equations.pots, flows.pots, enthalpies, overflows, strict=True):
        net = share * own.lifted + own.others
        returned += over * own.overflow_heating + net * (enthalpy - of_tank)
        if planned.ends_in is None:
            loss -= over
            into_tank += over * (enthalpy + own.overflow_heating - of_tank)
        else:
            into_pots[planned.ends_in] += over * (enthalpy + own.overflow_heating - enthalpies[planned.ends_in])
    rates = []
    for number, (planned, pot) in enumerate(zip(equations.pots, pots, strict=True)):
        boiling = _boiling(equations, pot.temperature, pressure, evaporated)
        through_wall = planned.pot.heat_conductance * (_air_around(planned.pot, around, temperature) - pot.temperature)
        heat = into_pots[number] + through_wall - boiling.mass * boiling.latent_heat
        capacity = max(pot.mass, 1e-6) * fuel.heat_capacity(pot.temperature)
        gain, over = overflows[number]
        rates.append(PotVector(gain - over - boiling.mass, heat / capacity))
        pot_wall += through_wall
        latent += boiling.mass * boiling.latent_heat
        carried += boiling.mass * enthalpies[number]
        boiled_off += boiling.mass
    heat = wall + into_tank + radiated + around.sun + around.road
    change = tank_rates(fuel, contents, tank.volume, tank.vent, around.pressure, heat, loss)
    return VesselRates(
        TankVector(
            **dict.fromkeys(HeatSources._fields, 0.0),
            temperature=change.temperature,
            liquid=-loss - change.evaporation,
            air=change.air,
            evaporated=change.evaporated,
            supply_temperature=change.temperature,
            vapour=change.evaporation - change.vented,
            vented=change.vented + boiled_off,
            burnt=flows.burnt,
            wall=wall + pot_wall,
            returned=returned,
            radiated=radiated,
            lift=0.0,
            sun=around.sun,
            road=around.road,
            evaporation=latent + change.latent_heat * change.evaporation,
            carried=carried + change.evaporation * of_tank,
        ),
        rates,
    )


def _air_around(pot: Pot, around: Around, tank_temperature: float) -> float:
    """Return the temperature of what surrounds a pot, K."""
    zones = {"underfloor": around.underfloor, "bay": around.bay, "tank": tank_temperature}
    return zones[pot.zone]


def _boiling(equations: TankEquations, temperature: float, pressure: float, evaporated: float) -> _Boiling:
    """Return what boils off in a pot; nothing below the temperature at which its fuel boils at the tank's pressure."""
    fuel = equations.fuel
    if fuel.bubble_pressure(temperature, evaporated).pressure <= pressure:
        return _Boiling(0.0, 0.0)
    latent_heat = fuel.vapour(temperature, evaporated).latent_heat
    beyond = max(temperature - fuel.boiling_temperature(pressure, evaporated), 0.0)
    return _Boiling(beyond * POT_BOILING_CONDUCTANCE / latent_heat, latent_heat)
