"""How a tank and the pot beside its pump warm up while the car runs through its schedule: the equations over time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Generic, NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.constants import GAS_CONSTANT, GRAVITY, ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.system.exchange import between, moving_share
from fuelsim.transients.plumbing_table import AT_REST, PlumbingState, PlumbingTable
from fuelsim.transients.pot_flows import PlannedPot
from fuelsim.transients.radiation import onto_tank
from fuelsim.transients.schedule import Phase
from fuelsim.transients.tank import TankState, tank_rates, vapour_space
from fuelsim.transients.tank_fuel import TankFuel
from fuelsim.transients.world import World
from fuelsim.typing import BoolArray, Given, IndexArray, PointArray, Values

if TYPE_CHECKING:
    from fuelsim.car.car import Car

__all__ = ["LEAST_FUEL", "Around", "PotVector", "Stop", "TankEquations", "TankVector", "Trajectory"]

PICK_UP_VOLUME = 1e-3
"""Volume around the pick-up in which returned fuel lingers, m3 [assumed]."""
POT_BOILING_CONDUCTANCE = 500.0
"""Heat that boils off in a pot per kelvin above its boiling point, W/K (numerical; it overshoots by less than 1 K)."""
LEAST_FUEL = 0.3
"""Mass of fuel at which the pick-up is bare and the drive ends, kg [assumed]."""
BOILS_ALONE = 0.1
"""Excess over the tank's temperature from which fuel apart from it boils by a balance of its own, K (numerical)."""
WORLD_STEP = 60.0
"""Time between the points on which the world is interpolated within a phase, s."""


class TankVector(NamedTuple, Generic[Values]):
    """The state that is integrated: the tank, where the fuel is, and heat since the start.

    Attributes
    ----------
    temperature : float or array
        Temperature of the fuel in the tank, K.
    liquid : float or array
        Mass of liquid fuel in the tank, kg.
    air : float or array
        Amount of air in the vapour space, mol.
    evaporated : float or array
        Mass fraction of the present fuel that has evaporated.
    supply_temperature : float or array
        Temperature of the fuel at the pick-up or in the surge pot, K.
    vapour, vented, burnt : float or array
        Mass of fuel vapour above the fuel, of vapour that left by the vent, and of fuel burnt, kg.
    wall, returned, radiated, lift : float or array
        Heat through walls, with the returning fuel, by radiation of the exhaust and by a lift pump, J.
    sun, road : float or array
        Heat that the tank absorbs from the sun, and from the road beyond what its walls exchange with the air, J.
    pump_heat, rail_heat, bay_heat, line_heat, burnt_heat : float or array
        What the returning fuel's heat is made of, J, as `HeatSources`; 0 in plumbings with pots.
    evaporation, carried : float or array
        Heat into vapour, and enthalpy of the fuel that left, above 315 K, J.
    """

    temperature: Values
    liquid: Values
    air: Values
    evaporated: Values
    supply_temperature: Values
    vapour: Values
    vented: Values
    burnt: Values
    wall: Values
    returned: Values
    radiated: Values
    lift: Values
    sun: Values
    road: Values
    pump_heat: Values
    rail_heat: Values
    bay_heat: Values
    line_heat: Values
    burnt_heat: Values
    evaporation: Values
    carried: Values


ABSOLUTE_TOLERANCE = TankVector(
    temperature=1e-5,
    liquid=1e-7,
    air=1e-7,
    evaporated=1e-8,
    supply_temperature=1e-5,
    vapour=1e-8,
    vented=1e-8,
    burnt=1e-7,
    wall=1.0,
    returned=1.0,
    radiated=1.0,
    lift=1.0,
    sun=1.0,
    road=1.0,
    pump_heat=1e3,
    rail_heat=1e3,
    bay_heat=1e3,
    line_heat=1e3,
    burnt_heat=1e3,
    evaporation=1.0,
    carried=1.0,
)
"""Absolute tolerance of the integration, in the unit of each state."""


class Stop(NamedTuple):
    """An engine that stopped of itself.

    Attributes
    ----------
    time : float
        When it stopped, s from the start.
    by_vapour : bool
        Whether vapour at a pump's inlet is the cause.
    reason : str
        What was there as it stopped, for people.
    restart : float
        When it was restarted, s from the start; infinite if never.
    """

    time: float
    by_vapour: bool
    reason: str
    restart: float = np.inf


@dataclass(frozen=True)
class Trajectory:
    """States along the integration; every array is (times,).

    Attributes
    ----------
    time : array
        Time since the start, s.
    phase : int array
        Number of the phase.
    within : array
        Time since that phase began, s.
    states : TankVector of arrays
        The tank.
    pots : tuple of PotVector of arrays
        The pots.
    out_of_fuel : bool array
        Whether a pot has run empty and the engine stands until the phase is over.
    stopped : bool array
        Whether the engine has stopped of itself and has not been restarted.
    stops : tuple of Stop
        When it stopped and when it was restarted.
    """

    time: PointArray
    phase: IndexArray
    within: PointArray
    states: TankVector[PointArray]
    pots: tuple[PotVector[PointArray], ...]
    out_of_fuel: BoolArray
    stopped: BoolArray
    stops: tuple[Stop, ...]

    def before(self, cut: BoolArray) -> Trajectory:
        """Return the part before the first time of a kind, which always holds the start.

        Parameters
        ----------
        cut : bool array (times,)
            Whether a time is of that kind.
        """
        count = max(int(np.argmax(cut)), 1) if np.any(cut) else len(self.time)
        last = float(self.time[count - 1])
        return Trajectory(
            time=self.time[:count],
            phase=self.phase[:count],
            within=self.within[:count],
            states=TankVector(*(values[:count] for values in self.states)),
            pots=tuple(PotVector(*(values[:count] for values in pot)) for pot in self.pots),
            out_of_fuel=self.out_of_fuel[:count],
            stopped=self.stopped[:count],
            stops=tuple(stop for stop in self.stops if stop.time <= last),
        )

    def pot_states(self, point: int) -> list[PotVector[float]]:
        """Return the state of each pot at one of the times.

        Parameters
        ----------
        point : int
            Number of the time; negative counts from the end.
        """
        return [PotVector(*(float(values[point]) for values in pot)) for pot in self.pots]

    def state(self, point: int) -> TankVector[float]:
        """Return the state at one of the times.

        Parameters
        ----------
        point : int
            Number of the time; negative counts from the end.
        """
        return TankVector(*(float(values[point]) for values in self.states))


class PotVector(NamedTuple, Generic[Values]):
    """The state of one pot that is integrated.

    Attributes
    ----------
    mass : float or array
        Mass of liquid fuel in the pot, kg.
    temperature : float or array
        Its temperature, K.
    """

    mass: Values
    temperature: Values


POT_TOLERANCE = PotVector(mass=1e-7, temperature=1e-5)
"""Absolute tolerance of the integration for a pot."""


class _SupplyRates(NamedTuple):
    """Heat balance of the fuel around the pick-up: a surge pot, or the corner where returned fuel lingers.

    Attributes
    ----------
    into_tank : float
        Heat that flows on into the tank, W.
    wall, lift : float
        Heat through the pot's wall, and of its lift pump, W.
    temperature : float
        Rate of the temperature of the supply, K/s; without meaning where all of the tank is the supply.
    boiled : float
        Mass of fuel that boils off there, kg/s.
    """

    into_tank: float
    wall: float = 0.0
    lift: float = 0.0
    temperature: float = 0.0
    boiled: float = 0.0


class Around(NamedTuple):
    """Pressure of the atmosphere, Pa absolute, air temperatures, K, and what the tank takes from sun and road, W."""

    pressure: float
    underfloor: float
    bay: float
    sun: float = 0.0
    road: float = 0.0


@dataclass(frozen=True)
class _Outside:
    """The air within a phase, tabulated at equal steps of time."""

    step: float
    values: list[Around]

    def at(self, time: float) -> Around:
        """Return the air by linear interpolation."""
        low = min(int(time / self.step), len(self.values) - 2)
        position = time / self.step - low
        before, after = self.values[low], self.values[low + 1]
        return Around(*(a * (1.0 - position) + b * position for a, b in zip(before, after, strict=True)))


@dataclass(frozen=True)
class TankEquations:
    """The equations of one car's tank in one world.

    Attributes
    ----------
    car : Car
        The car.
    world : World
        Schedule and surroundings.
    fuel : TankFuel
        The fuel as the tank sees it.
    pots : tuple of PlannedPot
        The pots of the plumbing.
    """

    car: Car
    world: World
    fuel: TankFuel
    pots: tuple[PlannedPot, ...] = ()

    @cached_property
    def supply_mass(self) -> float:
        """Mass of fuel apart from the tank's, in the plain surge pot or around the pick-up, kg.

        It is 0 where all of it mixes, and where the plumbing has pots of its own, which are integrated themselves.
        """
        if self.pots:
            return 0.0
        density = self.fuel.density(300.0).value
        if self.car.surge_pot is not None:
            return float(density * self.car.surge_pot.volume)
        return density * PICK_UP_VOLUME if self.car.tank.pick_up_return_share > 0.0 else 0.0

    @property
    def driving_states(self) -> list[int]:
        """Numbers of the states in `TankVector` on which rates depend; all others are sums over time."""
        names = ["temperature", "liquid", "air", "evaporated", *(["supply_temperature"] if self.supply_mass else [])]
        return [TankVector._fields.index(name) for name in names]

    # ---- start and grid -----------------------------------------------------------------------------------------

    def start(self, tank_temperature: Given | None) -> TankVector[float]:
        """Return the first state: cool fuel under air at the pressure outside.

        Parameters
        ----------
        tank_temperature : float or str, optional
            Temperature of the fuel, K; that of the air if left out.

        Raises
        ------
        InputError
            If the fuel would boil at once, or is colder than 240 K, or so little that the pick-up is bare.
        """
        world = self.world.at(0, np.zeros(1))
        outside = float(world.atmospheric_pressure[0])
        if tank_temperature is None:
            temperature = float(world.air_temperature[0])
        else:
            temperature = float(units.convert(tank_temperature, "temperature"))
        boils = self.fuel.boiling_temperature(outside, 0.0)
        if not 240.0 < temperature < boils - 0.05:
            raise InputError(
                "the fuel in the tank would boil at the start" if temperature > 240.0 else "too cold a tank",
                given=f"{temperature - ZERO_CELSIUS:.1f} degC",
                accepted=f"below {boils - ZERO_CELSIUS:.1f} degC, where this fuel boils at {outside / 1e3:.1f} kPa",
                part="drive",
                key="tank_temperature",
            )
        tank, thermal = self.car.tank, GAS_CONSTANT * temperature
        liquid = float(tank.fuel_volume * self.fuel.density(temperature).value)
        if liquid <= LEAST_FUEL:
            raise InputError(
                "the pick-up is bare at the start",
                given=f"{liquid:.2f} kg",
                accepted=f"above {LEAST_FUEL:g} kg of fuel",
                part="drive",
                key="tank.fuel_volume",
            )
        space = vapour_space(self.fuel, tank.volume, temperature, liquid)
        vapour = self.fuel.bubble_pressure(temperature, 0.0).pressure
        nothing = TankVector(*[0.0] * len(TankVector._fields))
        return nothing._replace(
            temperature=temperature,
            supply_temperature=temperature,
            liquid=liquid,
            air=(outside - vapour) * space / thermal,
            vapour=vapour * space / thermal * self.fuel.vapour(temperature, 0.0).molar_mass,
        )

    def pots_at_start(self, temperature: float) -> list[PotVector[float]]:
        """Return full pots at the temperature of the tank, K.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        """
        density = self.fuel.density(temperature).value
        return [PotVector(float(density * pot.pot.volume), temperature) for pot in self.pots]

    def level(self, pot: PlannedPot, state: PotVector[float]) -> float:
        """Return the volume of fuel in a pot over that of the pot.

        Parameters
        ----------
        pot : PlannedPot
            The pot.
        state : PotVector
            What is in it.
        """
        return state.mass / (self.fuel.density(state.temperature).value * float(pot.pot.volume))

    def pressure_grid(self) -> list[float]:
        """Return tank pressures above the atmosphere for which the plumbing is to be solved, Pa."""
        vent = self.car.tank.vent
        # A narrow vent lets the tank be pulled down or boil up beyond its valves.
        narrow = vent.bore < 1.5e-3
        beyond = 30e3 if narrow else 4e3
        low, high = -vent.vacuum_opening - beyond, vent.pressure_opening + beyond
        return [low, 0.5 * low, 0.0, 0.5 * high, high] if narrow else [low, high]

    def head(self, temperature: float, liquid: float) -> float:
        """Return the pressure by which the fuel level differs from the car's own, Pa.

        Parameters
        ----------
        temperature : float
            Temperature of the fuel, K.
        liquid : float
            Mass of liquid fuel, kg.
        """
        tank, density = self.car.tank, self.fuel.density(temperature).value
        return float(density * GRAVITY * tank.depth * (liquid / density - tank.fuel_volume) / tank.volume)

    # ---- equations -----------------------------------------------------------------------------------------------

    def rates(
        self,
        index: int,
        table: PlumbingTable | None,
        time: float,
        state: TankVector[float],
        around: Around,
    ) -> TankVector[float]:
        """Return the time derivative of the state of a tank without pots.

        Parameters
        ----------
        index : int
            Number of the phase.
        table : PlumbingTable or None
            Plumbing of that phase; None where the engine is stopped.
        time : float
            Time since the phase began, s.
        state : TankVector
            The state.
        around : Around
            The air.
        """
        outside, floor = around.pressure, around.underfloor
        tank, fuel, phase = self.car.tank, self.fuel, self.world.schedule.phases[index]
        temperature, evaporated = state.temperature, state.evaporated
        contents = TankState.within_bounds(temperature, state.liquid, state.air, evaporated)
        supply_temperature = state.supply_temperature if self.supply_mass else temperature
        plumbing = AT_REST
        if table is not None:
            space = vapour_space(fuel, tank.volume, temperature, contents.liquid)
            vapour = fuel.bubble_pressure(temperature, evaporated).pressure
            gauge = contents.air * GAS_CONSTANT * temperature / space + vapour - outside
            gauge += self.head(temperature, contents.liquid)
            plumbing = table.at(time, supply_temperature, gauge, evaporated)
        burnt = plumbing.supply - plumbing.returned
        conductance = self.wall_conductance(phase)
        running = table is not None
        supply = self._supply_rates(state, plumbing, running, outside, floor)
        wall = conductance * (floor - temperature) + supply.wall
        radiated = tank.radiated_heat if running else 0.0
        heat = wall + supply.into_tank + radiated + around.sun + around.road
        change = tank_rates(fuel, contents, tank.volume, tank.vent, outside, heat, burnt)
        latent_heat = change.latent_heat * change.evaporation
        carried = burnt * fuel.enthalpy(supply_temperature) + change.evaporation * fuel.enthalpy(temperature)
        if supply.boiled:
            latent_heat += supply.boiled * fuel.vapour(supply_temperature, evaporated).latent_heat
            carried += supply.boiled * fuel.enthalpy(supply_temperature)
        return TankVector(
            temperature=change.temperature,
            liquid=-burnt - change.evaporation - supply.boiled,
            air=change.air,
            evaporated=change.evaporated,
            supply_temperature=supply.temperature if self.supply_mass else change.temperature,
            vapour=change.evaporation - change.vented,
            vented=change.vented + supply.boiled,
            burnt=burnt,
            wall=wall,
            returned=plumbing.returned_heat,
            radiated=radiated,
            lift=supply.lift,
            sun=around.sun,
            road=around.road,
            pump_heat=plumbing.pump_heat,
            rail_heat=plumbing.rail_heat,
            bay_heat=plumbing.bay_heat,
            line_heat=plumbing.line_heat,
            burnt_heat=plumbing.burnt_heat,
            evaporation=latent_heat,
            carried=carried,
        )

    def wall_conductance(self, phase: Phase) -> float:
        """Return the heat conductance from the air under the floor to the tank, W/K.

        Parameters
        ----------
        phase : Phase
            The phase of the drive.
        """
        tank = self.car.tank
        moving = 2.0 * tank.heat_conductance if tank.moving_heat_conductance is None else tank.moving_heat_conductance
        return float(between(tank.heat_conductance, moving, moving_share(phase.vehicle_speed)))

    def _supply_rates(
        self, state: TankVector[float], plumbing: PlumbingState[float], running: bool, outside: float, floor: float
    ) -> _SupplyRates:
        """Return the heat balance of a surge pot, or of the returned fuel that lingers around the pick-up."""
        if not self.supply_mass:
            return _SupplyRates(into_tank=plumbing.returned_heat)
        fuel, pot = self.fuel, self.car.surge_pot
        tank_temperature, temperature = state.temperature, state.supply_temperature
        excess_enthalpy = fuel.enthalpy(temperature) - fuel.enthalpy(tank_temperature)
        wall = lift = 0.0
        if pot is not None:
            brought = pot.lift_flow * fuel.density(tank_temperature).value if running else 0.0
            lift = pot.lift_power if running else 0.0
            wall = pot.heat_conductance * (floor - temperature)
            heat = plumbing.returned_heat + lift + wall - brought * excess_enthalpy
            burnt = plumbing.supply - plumbing.returned
            into_tank = (brought - burnt) * excess_enthalpy - wall
        else:
            share = self.car.tank.pick_up_return_share
            heat = share * plumbing.returned_heat - (plumbing.supply - share * plumbing.returned) * excess_enthalpy
            into_tank = (1.0 - share) * (plumbing.returned_heat + plumbing.returned * excess_enthalpy)
        boils = temperature
        if temperature > tank_temperature + BOILS_ALONE:
            boils = fuel.boiling_temperature(outside, state.evaporated)
        latent_heat = fuel.vapour(temperature, state.evaporated).latent_heat
        boiled = max(temperature - boils, 0.0) * POT_BOILING_CONDUCTANCE / latent_heat
        # Fuel of the tank takes the place of what has boiled away.
        heat -= boiled * (latent_heat + excess_enthalpy)
        rate = heat / (self.supply_mass * fuel.heat_capacity(temperature))
        return _SupplyRates(into_tank, wall, lift, rate, boiled)

    def enthalpy(self, state: TankVector[float], pots: list[PotVector[float]]) -> float:
        """Return the enthalpy of the liquid fuel in tank and pots above 315 K, J.

        Parameters
        ----------
        state : TankVector
            The state of the tank.
        pots : list of PotVector
            That of the pots.
        """
        in_tank = state.liquid * self.fuel.enthalpy(state.temperature)
        in_pots = sum(pot.mass * self.fuel.enthalpy(pot.temperature) for pot in pots)
        return in_tank + in_pots + self.supply_mass * self.fuel.enthalpy(state.supply_temperature)

    def outside(self, index: int) -> _Outside:
        """Return the air within one phase, tabulated.

        Parameters
        ----------
        index : int
            Number of the phase.
        """
        duration = self.world.schedule.phases[index].duration
        times = np.linspace(0.0, duration, max(int(np.ceil(duration / WORLD_STEP)), 2) + 1)
        world = self.world.at(index, times)
        columns = (
            world.atmospheric_pressure,
            world.underfloor_temperature,
            world.bay_temperature,
            *onto_tank(
                self.car,
                self.world.sun(index, times),
                parked=self.world.schedule.phases[index].engine == "stopped",
                air_temperature=world.air_temperature,
                underfloor_temperature=world.underfloor_temperature,
            ),
        )
        return _Outside(float(times[1]), [Around(*row) for row in np.column_stack(columns).tolist()])
