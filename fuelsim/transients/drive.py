"""A drive: how tank and fuel warm up over hours, and when the margins to boiling are gone.

The plumbing answers within seconds, the tank within hours: so the tank's balances of heat, fuel, air and vapour are
integrated over time while the plumbing is in its steady state at every moment. That state is looked up in a grid of
networks solved beforehand (`fuelsim.transients.response`); along the answer the networks are solved once more, exactly,
which gives the results shown and the error of the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener, units
from fuelsim.fuel.molecules.species import GAS_CONSTANT
from fuelsim.network.state import ByName
from fuelsim.system.run import System
from fuelsim.transients.events import Event, find_events
from fuelsim.transients.response import OUTPUTS, Response, conditions_of, joined, locked_points, respond
from fuelsim.transients.schedule import Schedule, World
from fuelsim.transients.standing import after_standing, engine_metal_temperature, rail_heat_capacity
from fuelsim.transients.tank import WEATHERED, WEATHERING_TEMPERATURE, tank_fuel, vapour_space
from fuelsim.transients.warming import INDEX, Path, Warming

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from fuelsim.car.car import Car
    from fuelsim.car.climate import Climate

__all__ = ["Drive", "HeatLedger", "drive"]

_BY_NAME = ("temperature", "gauge_pressure", "vapour_margin", "pressure_margin", "vapour_liquid_ratio", "flow")
_SINGLE = ("suction_margin", "bypass_flow", "injector_duty", "tank_heat_flow")
WORTH_WEATHERING = 3e-3
"""Mass fraction evaporated from which the plumbing is solved with the weathered fuel too."""


@dataclass(frozen=True)
class HeatLedger:
    """Where the heat of the tank went over a drive, all in J.

    Attributes
    ----------
    wall, returned, radiated, lift : float
        In through the walls, with the returning fuel, by radiation and by a lift pump.
    evaporation : float
        Into vapour.
    carried : float
        Enthalpy of the fuel that left, above 315 K.
    stored : float
        Gain of the fuel's enthalpy above 315 K.
    """

    wall: float
    returned: float
    radiated: float
    lift: float
    evaporation: float
    carried: float
    stored: float

    @property
    def error(self) -> float:
        """What is missing in the balance, as a share of all heat that moved."""
        coming = self.wall + self.returned + self.radiated + self.lift
        moved = abs(self.wall) + abs(self.returned) + self.radiated + self.lift + abs(self.evaporation)
        missing = self.stored - (coming - self.evaporation - self.carried)
        return abs(missing) / max(moved, 1.0)


@dataclass(frozen=True)
class Drive:
    """A drive's results; every array is (times,), NaN for the plumbing while the engine stands.

    Only the rail keeps a temperature then: it soaks. What a restart takes is a question for `hot_soak`.

    A vapour lock stops a real engine. The drive goes on as if it were kept running, so that it shows how far the fuel
    would have to cool; while `vapour_lock` holds, the plumbing's figures say no more than that.

    Attributes
    ----------
    layout : str
    time : array
        Since the start, s.
    phase : array of str
        Name of the phase.
    running : bool array
        Whether the engine runs.
    air_temperature, bay_temperature, underfloor_temperature, altitude : array
        The world, K and m.
    tank_temperature, supply_temperature : array
        K: in the tank and at the pick-up or in the surge pot.
    boiling_temperature : array
        At which the tank's fuel, as it is by then, boils under the tank's pressure, K.
    tank_gauge_pressure : array
        Of the vapour space, Pa.
    fuel_mass, vapour_lost : array
        kg in tank and pot, and kg of vapour that left by the vent.
    evaporated : array
        Mass fraction of the fuel that has evaporated: its light ends.
    temperature, gauge_pressure, vapour_margin, pressure_margin, vapour_liquid_ratio : mapping of station to array
        As in `Run`.
    flow : mapping of link to array
        m3/s.
    suction_margin, bypass_flow, injector_duty, tank_heat_flow, pump_power : array
        Pa beyond the NPSH required, m3/s, 1, W, W.
    vapour_lock : bool array
        Whether the pump sucks more vapour than it tolerates, or starves the injectors while it sucks vapour.
    events : list of Event
    ledger : HeatLedger
    mass_error : float
        Fuel unaccounted for, as a share of the fuel at the start.
    interpolation_error : float
        Largest error of the rail pressure looked up in the grid, as a share of the pressure solved for, while neither
        the state nor a grid point beside it is vapour-locked: where the rail collapses within a tenth of a kelvin a
        grid says nothing, and only the pressures solved for, which are those shown, count.
    """

    layout: str
    time: Any
    phase: Any
    running: Any
    air_temperature: Any
    bay_temperature: Any
    underfloor_temperature: Any
    altitude: Any
    tank_temperature: Any
    supply_temperature: Any
    boiling_temperature: Any
    tank_gauge_pressure: Any
    fuel_mass: Any
    vapour_lost: Any
    evaporated: Any
    temperature: ByName
    gauge_pressure: ByName
    vapour_margin: ByName
    pressure_margin: ByName
    vapour_liquid_ratio: ByName
    flow: ByName
    suction_margin: Any
    bypass_flow: Any
    injector_duty: Any
    tank_heat_flow: Any
    pump_power: Any
    vapour_lock: Any
    events: list[Event]
    ledger: HeatLedger
    mass_error: float
    interpolation_error: float

    @property
    def tank_rise(self) -> float:
        """How far the tank ends above the ambient air, K."""
        return float(self.tank_temperature[-1] - self.air_temperature[-1])

    def table(self, system: str | None = None) -> pd.DataFrame:
        """Return one row per time shown, with the unit in each column's name."""
        return opener.drive_table(self, system)

    def plot(self) -> Figure:
        """Draw tank, rail and margins against time with the events marked."""
        return opener.drive_figure([self])


def drive(
    car: Car,
    layout: str,
    schedule: Schedule,
    *,
    climate: Climate | None = None,
    tank_temperature: Any = None,
    output_step: Any = 60.0,
) -> Drive:
    """Run a car through a schedule.

    Parameters
    ----------
    car : Car
        With `car.tank.vent`, `car.surge_pot` and `car.tank.pick_up_return_share` as it is built.
    layout : str
        ``"return"``, ``"returnless_tank"`` or ``"returnless_bay"``.
    schedule : Schedule
    climate : Climate, optional
        Such as ``hot_day("phoenix")``; the car's own air temperature all day if left out.
    tank_temperature : float or str, optional
        At the start; that of the air if left out.
    output_step : float or str
        Between the times shown, s.

    Returns
    -------
    Drive

    Raises
    ------
    InputError
        For an unknown layout, or a start above the fuel's boiling point.
    SolveError
        If the integration fails.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.transients.schedule import typical_phase
    >>> car = fs.Car.named("finch")
    >>> jam = Schedule.of([typical_phase("jam", "1 h", car)])
    >>> traffic = drive(car, "return", jam, tank_temperature="32 degC")
    >>> bool(5.0 < traffic.tank_rise < 15.0), bool(traffic.ledger.error < 1e-3)
    (True, True)
    """
    world = World(car, schedule, climate)
    fuel = tank_fuel(car.fuel.fuel())
    warming = Warming(car, world, fuel)
    start, step = warming.start(tank_temperature), float(units.convert(output_step, "time"))
    plumbing = System(car, layout)
    systems, evaporated = [plumbing], [0.0]
    responses = respond(plumbing, 0.0, fuel, world, warming.pressure_grid())
    path = warming.integrate(start, responses, step)
    lost = float(np.max(path.states[INDEX["evaporated"]]))
    if lost > WORTH_WEATHERING:
        evaporated.append(float(np.ceil(min(1.05 * lost, WEATHERED[-1]) * 100.0) / 100.0))
        systems.append(System(car, layout, fuel.fuel.weathered(evaporated[-1], WEATHERING_TEMPERATURE)))
        weathered = respond(systems[-1], evaporated[-1], fuel, world, warming.pressure_grid())
        responses = joined(responses, weathered)
        path = warming.integrate(start, responses, step)
    return _Results(warming, systems, evaporated, responses, path).drive()


@dataclass(frozen=True)
class _Results:
    """What is needed to tell a drive: the equations, the plumbing with each fuel, its answers, and the path taken."""

    warming: Warming
    systems: list[System]
    evaporated: list[float]
    responses: list[Response | None]
    path: Path

    def drive(self) -> Drive:
        """Solve the networks along the path and collect everything."""
        path, warming = self.path, self.warming
        car, fuel = warming.car, warming.fuel
        states = {name: path.states[i] for name, i in INDEX.items()}
        phases = warming.world.schedule.phases
        world: dict[str, Any] = {}
        for index in np.unique(path.phase):
            mine = path.phase == index
            for name, value in warming.world.at(int(index), path.within[mine]).items():
                world.setdefault(name, np.empty(path.time.shape))[mine] = value
        temperature, liquid, w = states["temperature"], states["liquid"], states["evaporated"]
        supply = states["supply_temperature"] if warming.pot_mass else temperature
        pressure = np.array(
            [
                n * GAS_CONSTANT * t / vapour_space(fuel, car.tank.volume, t, m) + fuel.boiling(t, x)[0]
                for n, t, m, x in zip(states["air"], temperature, liquid, w, strict=True)
            ]
        )
        gauge = pressure - world["atmospheric_pressure"]
        boiling = np.array([fuel.boiling_temperature(p, x) for p, x in zip(pressure, w, strict=True)])
        running = np.array([phases[i].engine == "running" for i in path.phase])
        with_head = gauge + np.array([warming.head(t, m) for t, m in zip(temperature, liquid, strict=True)])
        answers = self._solved_along(world, supply, pressure, with_head, running)
        looked_up, near_lock = np.full(path.time.shape, np.nan), np.zeros(path.time.shape)
        row, lock_row = OUTPUTS.index("rail_gauge_pressure"), OUTPUTS.index("vapour_lock")
        for point in np.flatnonzero(running):
            response = self.responses[path.phase[point]]
            if response is not None:
                found = response.at(path.within[point], supply[point], with_head[point], w[point])
                looked_up[point], near_lock[point] = found[row], found[lock_row]
        rail = np.asarray(answers["gauge_pressure"]["rail"])
        lock = np.asarray(answers["vapour_lock"])
        error = np.abs(looked_up - rail) / np.maximum(np.abs(rail), 1e4)
        fair = running & ~lock & (near_lock == 0.0) & np.isfinite(error)
        first, last = path.states[:, 0], path.states[:, -1]
        gained = {name: float(last[i] - first[i]) for name, i in INDEX.items()}
        stored = warming.enthalpy(last) - warming.enthalpy(first)
        ledger = HeatLedger(
            stored=stored,
            **{n: gained[n] for n in ("wall", "returned", "radiated", "lift", "evaporation", "carried")},
        )
        held = gained["liquid"] + gained["vapour"] + gained["vented"] + gained["burnt"]
        result = Drive(
            layout=self.systems[0].layout,
            time=path.time,
            phase=np.array([phases[i].name for i in path.phase], dtype=object),
            running=running,
            air_temperature=world["air_temperature"],
            bay_temperature=world["bay_temperature"],
            underfloor_temperature=world["underfloor_temperature"],
            altitude=world["altitude"],
            tank_temperature=temperature,
            supply_temperature=supply,
            boiling_temperature=boiling,
            tank_gauge_pressure=gauge,
            fuel_mass=liquid + warming.pot_mass,
            vapour_lost=states["vented"],
            evaporated=w,
            events=[],
            ledger=ledger,
            mass_error=abs(held) / float(first[INDEX["liquid"]]),
            interpolation_error=float(np.max(error[fair], initial=0.0)),
            **answers,
        )
        result.events.extend(find_events(result, car))
        return result

    def _solved_along(
        self, world: dict[str, Any], supply: Any, pressure: Any, gauge: Any, running: Any
    ) -> dict[str, Any]:
        """Solve with each fuel where it stands as far below boiling as the fuel in the tank does, and mix the answers.

        At equal distance to boiling the two fuels answer alike; at equal temperature one may boil and the other not.
        """
        where = np.flatnonzero(running)
        if not where.size:
            where = np.array([0])
        fuel, w = self.warming.fuel, self.path.states[INDEX["evaporated"]][where]
        boils = np.array([fuel.boiling_temperature(p, x) for p, x in zip(pressure[where], w, strict=True)])
        here = {name: value[where] for name, value in world.items()}
        runs, shifts = [], []
        for system, stage in zip(self.systems, self.evaporated, strict=True):
            shifts.append(fuel.boiling_temperature(pressure[where], stage) - boils)
            runs.append(system.solve(conditions_of(here, supply[where] + shifts[-1], gauge[where])))
        share = np.zeros(where.shape) if len(runs) == 1 else np.clip(w / self.evaporated[-1], 0.0, 1.0)
        locks = [locked_points(run) for run in runs]
        # Between a state that is locked and one that is not there is nothing: take the nearer one.
        share = np.where(locks[0] == locks[-1], share, np.round(share))

        def mixed(values: list[Any]) -> Any:
            value = np.asarray(values[0], dtype=float)
            if len(values) > 1:
                value = value + share * (np.asarray(values[1], dtype=float) - value)
            whole = np.full(supply.shape, np.nan)
            whole[where] = np.where(running[where], value, np.nan)
            return whole

        def by_name(attribute: str) -> ByName:
            mappings = [getattr(run, attribute) for run in runs]
            names = list(mappings[0])
            columns = [mixed([mapping[name] for mapping in mappings]) for name in names]
            if attribute == "temperature":
                columns = [column - mixed(shifts) for column in columns]
                columns[names.index("rail")] = self._with_soaks(columns[names.index("rail")], world, running)
            return ByName("link" if attribute == "flow" else "station", names, columns.__getitem__)

        locked = np.zeros(supply.shape, dtype=bool)
        nearest = np.where(share < 0.5, locks[0], locks[-1])
        locked[where] = running[where] & nearest
        found: dict[str, Any] = {name: by_name(name) for name in _BY_NAME}
        found |= {name: mixed([getattr(run, name) for run in runs]) for name in _SINGLE}
        found["pump_power"] = mixed([run.pump_power["pump"] for run in runs])
        found["vapour_lock"] = locked
        return found

    def _with_soaks(self, rail: Any, world: dict[str, Any], running: Any) -> Any:
        """Return the rail's temperature with the stops filled in: it follows bay and engine while nothing flows."""
        car, time = self.warming.car, self.path.time
        filled = np.array(rail)
        capacity = rail_heat_capacity(car, self.systems[0].fuel)
        stopped_at = 0.0
        for point in np.flatnonzero(~running):
            if point == 0:
                filled[0] = world["air_temperature"][0]
                continue
            if running[point - 1]:
                stopped_at = time[point - 1]
            step = time[point] - time[point - 1]
            filled[point] = after_standing(
                car,
                filled[point - 1],
                step,
                world["bay_temperature"][point],
                engine_metal_temperature(car, world["air_temperature"][point], time[point] - stopped_at),
                capacity,
            )
        return filled
