"""Random networks far outside fuel systems, by seed: trees, chains and grids to 200 links, awkward on purpose.

Lines of 0.5-100 mm and 1 mm-100 m, viscosities of 0.2-500 mm2/s, check valves of any orientation, every regulator
with a reference to any node, draws of 0-9 times a base the pumps can give. Some are cut off or overdrawn on purpose
and know their class.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from plumbing import ATMOSPHERE, L_H, CurvePump

from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.part import Part
from fuelsim.parts.pump.controlled_pump import ControlledPump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator

DRAW_FACTORS = np.array([0.0, 0.2, 0.6, 1.0, 1.6, 3.0, 9.0])


@dataclass
class WideNetwork:
    """A random network as data.

    Attributes
    ----------
    reservoirs : dict of str to (pressure, height)
    nodes : dict of str to height
    links : dict of str to (up, down, part, reference)
    draws : dict of str to array (points,)
    liquid : Liquid
    cut_off : str
        Node that is cut off on purpose, or empty.
    """

    reservoirs: dict[str, tuple[float, float]] = field(default_factory=dict)
    nodes: dict[str, float] = field(default_factory=dict)
    links: dict[str, tuple[str, str, Part, str | None]] = field(default_factory=dict)
    draws: dict[str, Any] = field(default_factory=dict)
    liquid: Liquid = field(default_factory=lambda: Liquid(740.0, 0.6e-6))
    cut_off: str = ""

    def build(self, order: np.random.Generator | None = None) -> Network:
        """Build the network, nodes and links in a random order if a generator is given."""
        nodes, links = list(self.nodes), list(self.links)
        if order is not None:
            order.shuffle(nodes)
            order.shuffle(links)
        net = Network(ATMOSPHERE)
        for name, (pressure, height) in self.reservoirs.items():
            net.add_reservoir(name, pressure=pressure, height=height)
        for name in nodes:
            net.add_node(name, height=self.nodes[name])
        for name in links:
            up, down, part, reference = self.links[name]
            net.connect(up, down, part, name=name, reference=reference)
        return net


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _line(rng: np.random.Generator) -> Line:
    return Line(
        length=_log_uniform(rng, 1e-3, 100.0),
        bore=_log_uniform(rng, 0.5e-3, 0.1),
        roughness=float(rng.choice([0.0, 1.5e-6, 1e-4])),
        loss_coefficient=float(rng.choice([0.0, 0.0, rng.uniform(0.0, 20.0)])),
    )


def _part(rng: np.random.Generator, base: float) -> Part:
    """A line mostly, else a valve, an orifice or a regulator."""
    kind = rng.random()
    if kind < 0.72:
        return _line(rng)
    if kind < 0.80:
        return CheckValve(cracking_pressure=rng.uniform(0.0, 5e4))
    if kind < 0.86:
        return Orifice(diameter=_log_uniform(rng, 0.3e-3, 2e-2))
    droop = _log_uniform(rng, 500.0, 20e3) / (200.0 * L_H)
    if kind < 0.93:
        return ReducingRegulator(set_pressure=_log_uniform(rng, 2e4, 6e5), droop=droop)
    return ReturnRegulator(set_pressure=_log_uniform(rng, 2e4, 6e5), droop=droop)


def _shape(rng: np.random.Generator) -> list[tuple[int, int]]:
    """Pairs of node numbers of a tree, a chain or a grid, with up to 200 links."""
    kind, count = rng.choice(["tree", "chain", "grid"]), int(_log_uniform(rng, 3.0, 190.0))
    if kind == "grid":
        side = max(int(np.sqrt(count / 2.0)), 2)
        pairs = []
        for row in range(side):
            for column in range(side):
                here = row * side + column
                if column + 1 < side:
                    pairs.append((here, here + 1))
                if row + 1 < side:
                    pairs.append((here, here + side))
        return pairs
    pairs = [(int(rng.integers(0, node)) if kind == "tree" else node - 1, node) for node in range(1, count + 1)]
    for _ in range(rng.integers(0, 4)):
        first, second = rng.choice(count + 1, 2, replace=False)
        pairs.append((int(first), int(second)))
    return pairs


def wide_network(seed: int) -> WideNetwork:
    """Return the network of a seed."""
    rng = np.random.default_rng(seed)
    made = WideNetwork(liquid=Liquid(rng.uniform(600.0, 1100.0), _log_uniform(rng, 0.2e-6, 500e-6)))
    pairs = _shape(rng)
    count = max(max(pair) for pair in pairs) + 1
    names = [f"n{number}" for number in range(count)]
    for name in names:
        made.nodes[name] = float(rng.choice([0.0, rng.uniform(-2.0, 2.0)]))
    made.reservoirs["tank"] = (ATMOSPHERE, 0.0)
    run_out = _log_uniform(rng, 60.0, 4000.0) * L_H
    share = np.linspace(0.0, 1.0, 9)
    pump = CurvePump(flow=run_out * share, pressure=rng.uniform(1e5, 9e5) * (1.0 - share ** rng.uniform(1.0, 3.0)))
    feeding: Part = pump
    sensed = None
    if rng.random() < 0.15:
        feeding, sensed = ControlledPump(pump=pump, set_pressure=rng.uniform(1e5, 5e5)), str(rng.choice(names))
    made.links["pump"] = ("tank", names[0], feeding, sensed)
    if rng.random() < 0.3:
        made.links["second_pump"] = ("tank", str(rng.choice(names[1:])), pump, None)
    for number in range(rng.integers(0, 3)):
        reservoir = f"held{number}"
        made.reservoirs[reservoir] = (ATMOSPHERE + rng.uniform(-5e4, 4e5), float(rng.uniform(-1.0, 1.0)))
        part = _part(rng, run_out)
        ends = (reservoir, str(rng.choice(names[1:])))
        made.links[f"to_held{number}"] = (*(ends if rng.random() < 0.5 else ends[::-1]), part, _reference(rng, names))
    for number, (first, second) in enumerate(pairs):
        ends = (names[first], names[second]) if rng.random() < 0.7 else (names[second], names[first])
        made.links[f"l{number}"] = (*ends, _part(rng, run_out), _reference(rng, names))
    takers = [str(name) for name in rng.choice(names, min(count, int(rng.integers(1, 6))), replace=False)]
    parts = rng.dirichlet(np.ones(len(takers)))
    for name, fraction in zip(takers, parts, strict=True):
        demand = 0.5 * run_out * fraction * DRAW_FACTORS
        if rng.random() < 0.3:
            static_flow = min(max(fraction * run_out / 4.0, 2e-7), 1e-4)
            mass_demand = np.minimum(demand * made.liquid.density, 1.9)
            bank = Injectors(count=4, static_flow=static_flow, mass_demand=mass_demand)
            made.links[f"injectors_{name}"] = (name, "tank", bank, None)
        else:
            made.draws[name] = demand
    if rng.random() < 0.1:
        made.nodes["beyond"] = 0.0
        made.links["reversed"] = ("beyond", str(rng.choice(names)), CheckValve(), None)
        made.draws["beyond"] = 0.1 * run_out * np.maximum(DRAW_FACTORS, 0.1)
        made.cut_off = "beyond"
    if not made.draws:
        made.draws[names[-1]] = 0.1 * run_out * DRAW_FACTORS
    return made


def _reference(rng: np.random.Generator, names: list[str]) -> str | None:
    return str(rng.choice(names)) if rng.random() < 0.3 else None
