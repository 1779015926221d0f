"""Synthetic cars with hidden faults, and gauges with noise: how often a diagnosis finds what was hidden.

Run by hand: ``python tests/diagnosis/trial.py [CARS] [SEED]``. The stated set of readings is `READINGS`: a pressure
gauge on the rail, before and after the filter, a zero of that gauge, flow through the return into a can, volts and amps
at pump and battery, a vacuum gauge before the pump, injector duty and mixture, at idle and three speeds at full load,
and the rail with the key on in a cold bay before the engine runs.
"""

from __future__ import annotations

import dataclasses
import sys
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

import fuelsim as fs
from fuelsim.diagnosis.causes import HEALTHY, causes_of
from fuelsim.diagnosis.inference import Model, alike
from fuelsim.diagnosis.predictions import Column, Predictor, tolerances_of
from fuelsim.diagnosis.readings import FLOORS, Reading, quantity_named

NOISE = 0.02
POINTS = ({"rpm": 800, "load": 0.0}, {"rpm": 2500, "load": 1.0}, {"rpm": 4000, "load": 1.0}, {"rpm": 6000, "load": 1.0})
QUANTITIES = ("rail_pressure", "bypass", "pump_voltage", "pump_current", "pressure at filter_outlet",
              "pressure at pump_outlet", "injector_duty", "supply_voltage", "suction_depression")  # fmt: skip
READINGS = (
    *(Reading(name, 0.0, at=point) for point in POINTS for name in QUANTITIES),
    Reading("pressure at tank", 0.0, 3e3, at=POINTS[0]),
    Reading("rail_pressure", 0.0, at={"rpm": 0, "load": 0.0, "bay_temperature": 293.15}),
    Reading("mixture", 1.0, 0.02, at=POINTS[1]),
)
LEAST_PRESSURE, LEAST_FLOW = 15e3, 0.08
"""Least effect of a hidden fault: on the rail at any point, Pa, or at full load as a share of bypass or duty."""
MOST_TRIES = 200
WITHOUT = {"blocked tank vent", "leaking check valve", "leaking regulator seat", "leaking injectors"}
"""Causes whose greatest size has a smaller effect on these readings, or none on those of a running car."""


@dataclass
class Workshop:
    """The model of one healthy car, made once, and its random numbers."""

    seed: int = 0
    system: fs.System = field(default_factory=lambda: fs.Car.named("finch").system("return"))

    def __post_init__(self):
        self.random = np.random.default_rng(self.seed)
        self.causes = causes_of(self.system)
        self.hidden = [cause for cause in self.causes if cause.name not in WITHOUT]
        self.model = Model(Predictor(self.system, READINGS), self.causes, tolerances_of(self.system))
        self.kinds = [quantity_named(reading.quantity, self.system).kind for reading in READINGS]
        self.full = {r.quantity: row for row, r in enumerate(READINGS) if r.at == POINTS[3]}
        self.full["mixture"] = len(READINGS) - 1

    def shown(self, faults, system=None, also=()):
        """What gauges show of a car with faults, without noise; NaN where it cannot be computed."""
        column = Column.of(list(faults))
        column = Column((*column.effects, *also), column.changes)
        true = Predictor(system or self.system, READINGS).predict([column])[:, 0]
        return self.model.read(true, [(cause, size) for cause, size in faults if cause.gauge])

    def matters(self, shown, healthy=None):
        """Whether a fault has the least effect."""
        change = shown - (self.model.healthy if healthy is None else healthy)
        share = np.abs(change) / np.maximum(np.abs(self.model.healthy), 1e-9)
        # A vacuum hose that is off shows at idle only.
        rail = [row for row, reading in enumerate(READINGS) if reading.quantity == "rail_pressure"]
        return bool(
            np.max(np.abs(change[rail])) >= LEAST_PRESSURE
            or max(share[self.full[name]] for name in ("bypass", "injector_duty", "mixture")) >= LEAST_FLOW
        )

    def size(self, cause):
        return 1.0 if cause.there_or_not else float(cause.sizes(np.array([self.random.uniform()]))[0])

    def fault(self, cause):
        """A random size of a cause that matters, and what the gauges show."""
        for _ in range(MOST_TRIES):
            size = self.size(cause)
            shown = self.shown([(cause, size)])
            if np.all(np.isfinite(shown)) and self.matters(shown):
                return size, shown
        raise AssertionError(f"no size of '{cause.name}' in {MOST_TRIES} matters to these readings")

    def read(self, shown):
        """Readings with the gauges' noise."""
        made = []
        for reading, kind, value in zip(READINGS, self.kinds, shown, strict=True):
            sigma = max(NOISE * abs(value), FLOORS.get(kind, 0.01) / 3.0)
            made.append(dataclasses.replace(reading, value=value + self.random.normal() * sigma, uncertainty=sigma))
        return made

    def other_laws(self):
        """A healthy car that is not the model's: other fittings, bores and clogging, wire, regulator, and a pump whose
        curve is a straight line within the tolerance of its class."""
        car, uniform = self.system.car, self.random.uniform
        values = {
            "wire.other": uniform(0.0, 0.02),
            "rail_regulator.set_pressure": float(car.rail_regulator.set_pressure) * uniform(0.99, 1.01),
            "filter.clogging": uniform(1.0, 1.6),
        }
        for line in ("feed", "return_line"):
            values[f"{line}.loss_coefficient"] = float(car.value_of(f"{line}.loss_coefficient")) * uniform(0.6, 1.6)
            values[f"{line}.bore"] = float(car.value_of(f"{line}.bore")) * uniform(0.97, 1.03)
        pump = car.pump
        straight = np.linspace(float(pump.flow[0]), float(pump.flow[-1]), len(pump.flow)) * uniform(0.95, 1.05)
        straight = np.interp(pump.pressure, [pump.pressure[0], pump.pressure[-1]], [straight[0], straight[-1]])
        current = np.asarray(pump.current) * uniform(0.95, 1.05)
        values["pump"] = dataclasses.replace(pump, flow=straight, current=current)
        return car.with_values(values).system("return")

    def judged(self, readings):
        """Ranked hypotheses, singles and the group of those alike."""
        fits = self.model.against(readings).fits()
        ranked = sorted(fits, key=lambda fit: -fit.log_evidence - np.log(fit.prior))
        return ranked, {fit.name: fit for fit in fits[1:]}, [fit.name for fit in alike(fits[1:])]


@dataclass
class Score:
    """What became of a trial, as shares of the cars."""

    cars: int = 0
    first: int = 0
    alone: int = 0
    inside: int = 0
    groups: list[int] = field(default_factory=list)
    missed: Counter = field(default_factory=Counter)

    def add(self, cause, size, judged):
        ranked, singles, group = judged
        named = ranked[0].name == cause.name or (ranked[0].name in group and cause.name in group and len(group) <= 3)
        self.cars += 1
        self.first += named
        self.alone += group == [cause.name]
        self.inside += bool(singles[cause.name].low[0] <= size <= singles[cause.name].high[0])
        self.groups.append(len(group))
        if not named:
            self.missed[cause.name, ranked[0].name] += 1

    def __str__(self):
        shares = ", ".join(f"{name} {getattr(self, name) / self.cars:.3f}" for name in ("first", "alone", "inside"))
        return f"{self.cars} cars: {shares}, mean group {np.mean(self.groups):.2f}; missed {dict(self.missed)}"


def one_cause(workshop, cars):
    score = Score()
    for number in range(cars):
        cause = workshop.hidden[number % len(workshop.hidden)]
        size, shown = workshop.fault(cause)
        score.add(cause, size, workshop.judged(workshop.read(shown)))
    return score


def two_causes(workshop, cars):
    """Share of cars with two faults both of which are in the first three pairs."""
    found = 0
    for _ in range(cars):
        for _ in range(MOST_TRIES):
            pair = [workshop.hidden[at] for at in workshop.random.choice(len(workshop.hidden), 2, replace=False)]
            if pair[0].keys & pair[1].keys:
                continue
            faults = [(cause, workshop.size(cause)) for cause in pair]
            shown = workshop.shown(faults)
            each = [workshop.shown([fault]) for fault in faults]
            # Each must matter beside the other too.
            if np.all(np.isfinite([shown, *each])) and all(workshop.matters(shown, one) for one in each):
                break
        fits = workshop.model.against(workshop.read(shown)).pairs()
        ranked = sorted(fits, key=lambda fit: -fit.log_evidence - np.log(fit.prior))[:3]
        found += {cause.name for cause in pair} in [{cause.name for cause in fit.causes} for fit in ranked]
    return found / cars


def healthy_cars(workshop, cars):
    return sum(workshop.judged(workshop.read(workshop.model.healthy))[0][0].name == HEALTHY for _ in range(cars))


def other_laws(workshop, cars):
    """The same on cars that follow other laws than the model: score, and healthy ones that are called healthy."""
    score, healthy = Score(), 0
    for number in range(cars):
        cause = workshop.hidden[number % len(workshop.hidden)]
        size, _ = workshop.fault(cause)
        shown = workshop.shown([(cause, size)], workshop.other_laws())
        score.add(cause, size, workshop.judged(workshop.read(shown)))
        healthy += workshop.judged(workshop.read(workshop.shown([], workshop.other_laws())))[0][0].name == HEALTHY
    return score, healthy


if __name__ == "__main__":
    cars, seed = (int(text) for text in (*sys.argv[1:], "200", "0")[:2])
    shop = Workshop(seed)
    print("one cause:", one_cause(shop, cars))
    print("healthy:", healthy_cars(shop, cars), "of", cars)
    print("other laws:", *other_laws(shop, cars))
    print("two causes:", two_causes(shop, max(cars // 4, 1)))
