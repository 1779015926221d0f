"""Random cars plumbed at random, of up to about 40 parts, for tests of what holds for every plumbing."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise

import numpy as np

import fuelsim as fs
from fuelsim.car.tables import PlacedReducer, PlacedRegulator, PlumbedLine
from fuelsim.constants import L_PER_HOUR
from fuelsim.typing import FloatArray

STANDING = 740.0 * 1e-4 * L_PER_HOUR
"""Mass flow below which fuel counts as standing, kg/s: 1e-4 L/h."""
PUMPS = ("in_tank_130", "in_tank_220", "in_tank_300", "external_roller", "external_gear_large")
LIFTS = ("lift_turbine", "lift_vane", "in_tank_130", "lift_solenoid")


class RandomPlumbing:
    """Makes the tables and runs of one random plumbing."""

    def __init__(self, seed: int) -> None:
        self.seed = seed
        self.chance = random.Random(seed)
        self.tables: dict[str, object] = {}
        self.runs: list[list[str]] = []
        self.number = 0

    def part(self, kind: str, part: object) -> str:
        """Add a table and return its name."""
        self.number += 1
        name = f"{kind.rstrip('s')}_{self.number}"
        self.tables[f"{kind}.{name}"] = part
        return name

    def some(self, *makers: Callable[[], str], most: int) -> list[str]:
        """Return up to so many parts by random makers."""
        return [self.chance.choice(makers)() for _ in range(self.chance.randint(0, most))]

    def line(self) -> str:
        """Add a line."""
        pick = self.chance
        return self.part(
            "lines",
            PlumbedLine(
                length=pick.uniform(0.1, 5.0),
                bore=10 ** pick.uniform(-2.35, -1.85),
                loss_coefficient=pick.choice((0.0, 2.0, 10.0)),
                zone=pick.choice(("tank", "underfloor", "bay")),
                material=pick.choice(("steel", "rubber", "ptfe")),
            ),
        )

    def filter(self) -> str:
        """Add a filter."""
        return self.part("filters", fs.Filter(rated_flow="150 L/h", rated_drop=self.chance.uniform(500.0, 20e3)))

    def check_valve(self) -> str:
        """Add a check valve."""
        return self.part("check_valves", fs.CheckValve.named(self.chance.choice(("twin_pump", "inline"))))

    def cooler(self) -> str:
        """Add a cooler."""
        return self.part("coolers", fs.Cooler(heat_conductance=self.chance.uniform(2.0, 20.0)))

    def pump(self, names: tuple[str, ...]) -> str:
        """Add a pump."""
        return self.part("pumps", fs.Pump.named(self.chance.choice(names)))

    def regulator(self) -> str:
        """Add a return regulator."""
        pick = self.chance
        return self.part(
            "regulators",
            PlacedRegulator(
                set_pressure=pick.uniform(100e3, 450e3),
                reference=pick.choice(("manifold", "atmosphere")),
                droop=pick.uniform(1e8, 1e9),
            ),
        )

    def made(self) -> fs.Car:
        """Return the car, with its plumbing under the name "own"."""
        pick, source = self.chance, "tank"
        if pick.random() < 0.5:
            source = self.part("pots", fs.Pot(volume=pick.uniform(0.5e-3, 3e-3), height=pick.uniform(0.0, 0.6)))
            self.runs.append(
                ["tank", *self.some(self.line, self.filter, most=2), self.pump(LIFTS), self.line(), source]
            )
            self.runs.append([source, self.line(), *self.some(self.line, self.cooler, most=1), "tank"])
        self._mains(source)
        rears = self._rails()
        self._returns(source, rears)
        if self.seed % 3 == 0:
            self._controllers()
        shared = {"injectors.count": 4 * sum(key.startswith("rails.") for key in self.tables)}
        base = fs.Car.named("plover").with_values({**self.tables, **shared})
        return base.with_plumbing("own", runs=self.runs)

    def _mains(self, source: str) -> None:
        """Pumps side by side or alone from the source to the tee, and what stands between it and the front."""
        pick = self.chance
        count = pick.choice((1, 1, 2, 2, 3))
        start = source
        if count > 1 and pick.random() < 0.5:
            self.runs.append([source, self.line(), "split"])
            start = "split"
        for _ in range(count):
            valve = [self.check_valve()] if pick.random() < 0.8 else []
            self.runs.append([start, *self.some(self.line, self.filter, most=1), self.pump(PUMPS), *valve, "tee"])
        parts = [self.filter(), *self.some(self.line, self.cooler, self.filter, most=2)]
        if pick.random() < 0.15:
            parts.append(self.part("reducers", PlacedReducer(set_pressure=pick.uniform(50e3, 250e3))))
        self.runs.append(["tee", *parts, "front"])

    def _rails(self) -> list[str]:
        """Rails side by side from the front, some dead-ended, some joined at their far ends."""
        pick, rears = self.chance, []
        for number in range(pick.randint(1, 4)):
            rail = self.part("rails", fs.Rail(length=pick.uniform(0.2, 0.8), bore=pick.uniform(8e-3, 18e-3)))
            run = ["front", *self.some(self.line, self.cooler, most=1), rail]
            if len(run) == 2:
                run.insert(1, self.line())
            if pick.random() < 0.6 or not number:
                rears.append(f"rear_{number}")
                run.append(rears[-1])
            self.runs.append(run)
        for one, other in pairwise(rears):
            self.runs.append([one, self.line(), other])
        return rears

    def _returns(self, source: str, rears: list[str]) -> None:
        """Regulators behind the rails, at the tee or both; bleeds and jet pumps."""
        pick = self.chance
        back = [source] if pick.random() < 0.6 else ["tank"]
        jet = [self.part("jet_pumps", fs.JetPump(nozzle_bore="2.5 mm"))] if pick.random() < 0.2 else []
        jet = jet if back != ["tank"] else []
        if pick.random() < 0.15:
            bleed = self.part("orifices", fs.Orifice(diameter=pick.uniform(0.4e-3, 1e-3)))
            self.runs.append([pick.choice(rears), bleed, self.line(), *back])
        self.runs.append([rears[-1], self.regulator(), self.line(), *self.some(self.cooler, most=1), *jet, *back])
        if pick.random() < 0.3:
            self.runs.append(["tee", self.regulator(), self.line(), *back])

    def _controllers(self) -> None:
        """Controllers that hold a pressure, and stages of all main pumps but the first."""
        pick = random.Random(-self.seed - 1)
        mains = [name for run in self.runs if run[-1] == "tee" for name in run if f"pumps.{name}" in self.tables]
        stages = (
            fs.PumpStage(demand_on="30 L/h", demand_off="20 L/h"),
            fs.PumpStage(pressure_on="250 kPa", pressure_off="300 kPa"),
            fs.PumpStage(manifold_pressure_on="80 kPa", manifold_pressure_off="60 kPa"),
        )
        for number, name in enumerate(mains):
            if pick.random() < 0.6:
                self.tables[f"pump_controls.{name}"] = fs.PumpControl(
                    set_pressure=pick.uniform(1e5, 6e5),
                    droop=pick.uniform(1e8, 1e9),
                    reference=pick.choice(("manifold", "atmosphere", "inlet")),
                    sensor=pick.choice((None, None, "outlet")),
                    least_share=pick.choice((0.0, 0.3, 0.6)),
                    most_share=pick.choice((0.8, 1.0)),
                )
            if number and pick.random() < 0.6:
                self.tables[f"pump_stages.{name}"] = pick.choice(stages)


def random_car(seed: int) -> fs.Car:
    """Return a random car whose plumbing "own" has 8 to about 40 parts."""
    return RandomPlumbing(seed).made()


def random_conditions(seed: int, count: int) -> fs.Conditions:
    """Return random operating points, cold to boiling, weak to full volts, sea level to mountains."""
    pick = random.Random(seed)
    return fs.Conditions(
        rpm=[pick.uniform(700.0, 6600.0) for _ in range(count)],
        load=[pick.uniform(0.0, 1.0) for _ in range(count)],
        tank_temperature=[pick.uniform(263.0, 335.0) for _ in range(count)],
        supply_voltage=[pick.uniform(8.0, 15.0) for _ in range(count)],
        altitude=[pick.choice((0.0, 0.0, 1500.0, 3000.0)) for _ in range(count)],
        vehicle_speed=[pick.choice((0.0, 5.0, 30.0)) for _ in range(count)],
    )


def faults(seed: int, points: int = 6) -> list[str]:
    """Return what is wrong with the run of a random car: no outcome, values missing without reason, mass not closed."""
    run = random_car(seed).system("own").solve(random_conditions(seed, points))
    good, wrong = run.outcome.has_values, []
    if np.any(~run.outcome.converged & (run.outcome.reason == "")):
        wrong.append(f"seed {seed}: a point without a result and without a reason")
    for name, mapping in (("pressure", run.pressure), ("temperature", run.temperature), ("flow", run.flow)):
        for key, values in mapping.items():
            if np.any(np.isfinite(values) != good):
                wrong.append(f"seed {seed}: {name} of {key} is {values}, with outcomes {run.outcome.code}")
    for name, mapping in (("power", run.pump_power), ("current", run.pump_current), ("share", run.pump_share)):
        for key, values in mapping.items():
            if np.any(values[good] < 0.0):
                wrong.append(f"seed {seed}: {name} of {key} is {values}")
    error = np.max(mass_errors(run)[:, good], initial=0.0)
    if error > 1e-6:
        wrong.append(f"seed {seed}: mass is not closed by {error:.2g}")
    heat = np.max(heat_errors(run)[:, good], initial=0.0)
    if heat > 1e-6:
        wrong.append(f"seed {seed}: heat is not closed by {heat:.2g}")
    return wrong


def heat_errors(run: fs.Run) -> FloatArray:
    """Return the imbalance of heat of each station over what flows through it 100 K warmer, (stations, points).

    Stations that exchange heat themselves, boil or hardly flow have another balance and count as closed.
    """
    plumbing = run.plumbing
    errors = []
    for station in plumbing.fuel_stations:
        if station == "tank" or station in plumbing.pots:
            continue
        inflow, carried = np.zeros(run.conditions.shape), np.zeros(run.conditions.shape)
        for link in plumbing.links:
            if station in (link.upstream, link.downstream):
                flow = run.mass_flow[link.name]
                if link in plumbing.overflow_links:
                    flow = np.maximum(flow, 0.0)  # backwards it is air that comes in
                flow = flow * (1.0 if link.downstream == station else -1.0)
                entering = np.where(flow > STANDING, flow, 0.0)
                inflow = inflow + entering
                carried = carried + entering * (run.outlet_temperature[link.name] - run.temperature[station])
        counts = (inflow > 1e-4) & (run.vapour_liquid_ratio[station] == 0.0)
        errors.append(np.where(counts, np.abs(carried) / np.maximum(100.0 * inflow, 1e-9), 0.0))
    return np.array(errors)


def mass_errors(run: fs.Run) -> FloatArray:
    """Return the imbalance of each station over the point's greatest flow, (stations, points).

    What a pot loses counts as coming from it: the flow of its overflow is then negative.
    """
    plumbing, flows = run.plumbing, run.mass_flow
    most = np.max(np.abs(list(flows.values())), axis=0)
    errors = []
    for station in plumbing.stations:
        if station in ("tank", "manifold"):
            continue
        into = sum(flows[link.name] for link in plumbing.links if link.downstream == station)
        out = sum(flows[link.name] for link in plumbing.links if link.upstream == station)
        errors.append(np.abs(into - out) / most)
    return np.array(errors)
