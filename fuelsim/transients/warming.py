"""How a tank and the pot beside its pump warm up while the car runs through its schedule: the equations over time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError, SolveError
from fuelsim.fuel.molecules.species import GAS_CONSTANT
from fuelsim.system.exchange import between, moving_share
from fuelsim.transients.response import Response
from fuelsim.transients.schedule import World
from fuelsim.transients.tank import TankFuel, TankState, tank_rates, vapour_space

if TYPE_CHECKING:
    from fuelsim.car.car import Car

__all__ = ["INDEX", "Path", "Warming"]

LEAST_FUEL = 0.3
"""kg at which the pick-up is bare and the drive ends."""
PICK_UP_VOLUME = 1e-3
"""m3 around the pick-up in which returned fuel lingers (assumed)."""
POT_BOILING_CONDUCTANCE = 500.0
"""W by which a pot boils per kelvin that it is above its boiling point (numerical; it overshoots by less than 1 K)."""
RELATIVE_TOLERANCE = 1e-5
LONGEST_STEP = 300.0
GRAVITY = 9.80665
_STATES = (
    ("temperature", 1e-5),
    ("liquid", 1e-7),
    ("air", 1e-7),
    ("evaporated", 1e-8),
    ("supply_temperature", 1e-5),
    ("vapour", 1e-8),
    ("vented", 1e-8),
    ("burnt", 1e-7),
    ("wall", 1.0),
    ("returned", 1.0),
    ("radiated", 1.0),
    ("lift", 1.0),
    ("evaporation", 1.0),
    ("carried", 1.0),
)
INDEX = {name: i for i, (name, _) in enumerate(_STATES)}
"""Row of each state: those of the tank, the fuel's whereabouts in kg, and heat since the start in J."""


@dataclass(frozen=True)
class Path:
    """States along the answer, ``(states, times)``, with phase and time within it."""

    time: Any
    phase: Any
    within: Any
    states: Any


class Warming:
    """The equations of one car's tank in one world."""

    def __init__(self, car: Car, world: World, fuel: TankFuel) -> None:
        self.car, self.world, self.fuel = car, world, fuel
        self.share = float(car.tank.pick_up_return_share)
        pot = car.surge_pot
        rho = fuel.density(300.0)[0]
        self.pot_mass = 0.0
        if pot is not None:
            self.pot_mass = rho * pot.volume
        elif self.share > 0.0:
            self.pot_mass = rho * PICK_UP_VOLUME
        self.nominal_level = car.tank.fuel_volume

    # ---- start and grid -----------------------------------------------------------------------------------------

    def start(self, tank_temperature: Any) -> Any:
        """Return the first state: cool fuel under air at the pressure outside."""
        world = self.world.at(0, np.zeros(1))
        outside = float(world["atmospheric_pressure"][0])
        if tank_temperature is None:
            temperature = float(world["air_temperature"][0])
        else:
            temperature = float(units.convert(tank_temperature, "temperature"))
        boils = float(self.fuel.boiling_temperature(outside, 0.0))
        if not 240.0 < temperature < boils - 0.05:
            raise InputError(
                "the fuel in the tank would boil at the start" if temperature > 240.0 else "too cold a tank",
                given=f"{temperature - 273.15:.1f} degC",
                accepted=f"below {boils - 273.15:.1f} degC, where this fuel boils at {outside / 1e3:.1f} kPa",
                part="drive",
                key="tank_temperature",
            )
        tank = self.car.tank
        liquid = tank.fuel_volume * self.fuel.density(temperature)[0]
        space = vapour_space(self.fuel, tank.volume, temperature, liquid)
        vapour = self.fuel.boiling(temperature, 0.0)[0]
        state = np.zeros(len(_STATES))
        state[INDEX["temperature"]] = state[INDEX["supply_temperature"]] = temperature
        state[INDEX["liquid"]] = liquid
        state[INDEX["air"]] = (outside - vapour) * space / (GAS_CONSTANT * temperature)
        state[INDEX["vapour"]] = vapour * space / (GAS_CONSTANT * temperature) * self.fuel.vapour(temperature, 0.0)[0]
        return state

    def pressure_grid(self) -> list[float]:
        """Return tank pressures above the atmosphere for which the plumbing is to be solved, Pa."""
        vent = self.car.tank.vent
        # A narrow vent lets the tank be pulled down or boil up beyond its valves.
        narrow = vent.bore < 1.5e-3
        beyond = 30e3 if narrow else 4e3
        low, high = -vent.vacuum_opening - beyond, vent.pressure_opening + beyond
        return [low, 0.5 * low, 0.0, 0.5 * high, high] if narrow else [low, high]

    def head(self, temperature: Any, liquid: Any) -> Any:
        """Return the pressure by which the fuel level differs from the car's own, Pa."""
        tank, rho = self.car.tank, self.fuel.density(temperature)[0]
        return rho * GRAVITY * tank.depth * (liquid / rho - self.nominal_level) / tank.volume

    # ---- equations -----------------------------------------------------------------------------------------------

    def rates(self, index: int, response: Response | None, time: float, y: Any, here: Any) -> Any:
        """Return dy/dt within a phase; `here` gives the world at that time."""
        values = y.tolist()
        temperature, liquid, air, evaporated, supply_temperature = values[:5]
        outside, floor = here("atmospheric_pressure", time), here("underfloor_temperature", time)
        car, tank, fuel, phase = self.car, self.car.tank, self.fuel, self.world.schedule.phases[index]
        state = TankState(temperature, max(liquid, 0.01), max(air, 1e-9), evaporated)
        at = supply_temperature if self.pot_mass else temperature
        supply = returned = returned_heat = 0.0
        if response is not None:
            space = vapour_space(fuel, tank.volume, temperature, state.liquid)
            gauge = state.air * GAS_CONSTANT * temperature / space + fuel.boiling(temperature, evaporated)[0] - outside
            gauge += self.head(temperature, state.liquid)
            supply, returned, returned_heat = response.at(time, at, gauge, evaporated)[:3].tolist()
        burnt = supply - returned
        share = float(moving_share(phase.vehicle_speed))
        moving = 2.0 * tank.heat_conductance if tank.moving_heat_conductance is None else tank.moving_heat_conductance
        wall = between(tank.heat_conductance, moving, share) * (floor - temperature)
        radiated = tank.radiated_heat if phase.engine == "running" else 0.0
        lift = 0.0
        into_tank = returned_heat
        pot_rate = 0.0
        boiled_in_pot = 0.0
        if self.pot_mass:
            apart = fuel.enthalpy(at) - fuel.enthalpy(temperature)
            heat = returned_heat
            pot = car.surge_pot
            if pot is not None:
                brought = pot.lift_flow * fuel.density(temperature)[0] if response is not None else 0.0
                lift = pot.lift_power if response is not None else 0.0
                side = pot.heat_conductance * (floor - at)
                wall += side
                heat = returned_heat + lift + side - brought * apart
                into_tank = (brought - burnt) * apart - side
            else:
                heat = self.share * returned_heat - (supply - self.share * returned) * apart
                into_tank = (1.0 - self.share) * (returned_heat + returned * apart)
            boils = float(fuel.boiling_temperature(outside, evaporated)) if at > temperature + 0.1 else at
            latent = fuel.vapour(at, evaporated)[1]
            boiled_in_pot = max(at - boils, 0.0) * POT_BOILING_CONDUCTANCE / latent
            pot_rate = (heat - boiled_in_pot * latent) / (self.pot_mass * fuel.heat_capacity(at))
        found = tank_rates(fuel, state, tank.volume, tank.vent, outside, wall + into_tank + radiated, burnt)
        leaves = found.evaporation
        latent_heat = found.latent_heat * leaves
        carried = burnt * fuel.enthalpy(at) + leaves * fuel.enthalpy(temperature)
        if boiled_in_pot:
            latent_heat += boiled_in_pot * fuel.vapour(at, evaporated)[1]
            carried += boiled_in_pot * fuel.enthalpy(at)
        return np.array(
            [
                found.temperature,
                -burnt - leaves - boiled_in_pot,
                found.air,
                found.evaporated,
                pot_rate if self.pot_mass else found.temperature,
                leaves - found.vented,
                found.vented + boiled_in_pot,
                burnt,
                wall,
                returned_heat,
                radiated,
                lift,
                latent_heat,
                carried,
            ]
        )

    def integrate(self, start: Any, responses: list[Response | None], output_step: float) -> Path:
        """Integrate phase by phase."""
        from scipy.integrate import solve_ivp

        pieces: list[tuple[Any, Any, Any, Any]] = []
        y = start
        tolerances = np.array([tolerance for _, tolerance in _STATES])
        for index, phase in enumerate(self.world.schedule.phases):
            grid = np.linspace(0.0, phase.duration, max(int(np.ceil(phase.duration / 60.0)), 2) + 1)
            table = self.world.at(index, grid)
            step = grid[1] - grid[0]

            def here(
                name: str, time: float, table: Any = table, step: float = step, last: int = len(grid) - 2
            ) -> float:
                low = min(int(time / step), last)
                values = table[name]
                share = time / step - low
                return float(values[low] * (1.0 - share) + values[low + 1] * share)

            def rates(
                time: float, y: Any, index: int = index, response: Any = responses[index], here: Any = here
            ) -> Any:
                return self.rates(index, response, time, y, here)

            def empty(time: float, y: Any) -> float:
                return float(y[INDEX["liquid"]]) - LEAST_FUEL

            empty.terminal = True  # type: ignore[attr-defined]
            count = max(int(np.ceil(phase.duration / output_step)), 1)
            shown = np.linspace(0.0, phase.duration, count + 1)
            answer = solve_ivp(
                rates,
                (0.0, phase.duration),
                y,
                method="LSODA",
                t_eval=shown,
                rtol=RELATIVE_TOLERANCE,
                atol=tolerances,
                events=empty,
                max_step=LONGEST_STEP,
            )
            if answer.status < 0:
                raise SolveError(f"the drive could not be integrated in phase '{phase.name}': {answer.message}")
            begin = self.world.schedule.starts[index]
            pieces.append((begin + answer.t, np.full(answer.t.shape, index), answer.t, answer.y))
            y = answer.y[:, -1]
            if answer.status == 1:
                break
        return Path(*(np.concatenate([piece[i] for piece in pieces], axis=-1) for i in range(4)))

    def enthalpy(self, state: Any) -> float:
        """Return the enthalpy of the liquid fuel in tank and pot above 315 K, J."""
        total = state[INDEX["liquid"]] * self.fuel.enthalpy(state[INDEX["temperature"]])
        return float(total + self.pot_mass * self.fuel.enthalpy(state[INDEX["supply_temperature"]]))
