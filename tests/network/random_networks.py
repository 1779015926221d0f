"""Random plumbing by seed: trees, loops, several pumps, regulators, check valves, bleeds, injectors and fixed draws."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from plumbing import ATMOSPHERE, L_H, PETROL, CurvePump

from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.part import Part
from fuelsim.parts.pump.controlled_pump import ControlledPump
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator


@dataclass
class Plumbing:
    """A random network as data, so that it can be built in any order."""

    reservoirs: dict[str, tuple[float, float]] = field(default_factory=dict)
    nodes: dict[str, float] = field(default_factory=dict)
    links: dict[str, tuple[str, str, Part, str | None]] = field(default_factory=dict)
    draws: dict[str, Any] = field(default_factory=dict)
    points: int = 1
    fixed_draws: bool = False

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


def _pump(rng: np.random.Generator) -> tuple[Any, float]:
    """Return a random pump and its run-out flow."""
    run_out = rng.uniform(60.0, 400.0) * L_H
    dead_head = rng.uniform(2e5, 9e5)
    share = np.linspace(0.0, 1.0, 9)
    power = rng.uniform(1.0, 3.0)
    return CurvePump(flow=run_out * share, pressure=dead_head * (1.0 - share**power)), run_out


def _line(rng: np.random.Generator) -> Line:
    return Line(
        length=float(np.exp(rng.uniform(np.log(0.05), np.log(5.0)))),
        bore=rng.uniform(0.003, 0.016),
        roughness=float(rng.choice([0.0, 1.5e-6, 1e-5])),
        loss_coefficient=float(rng.choice([0.0, rng.uniform(0.0, 20.0), rng.uniform(0.0, 3000.0)])),
        laminar_loss_coefficient=float(rng.choice([0.0, 800.0])),
    )


def _droop(rng: np.random.Generator) -> float:
    """0.5 to 20 kPa over 200 L/h."""
    return float(np.exp(rng.uniform(np.log(500.0), np.log(20e3)))) / (200.0 * L_H)


def _slowed(pump: CurvePump) -> CurvePump:
    """Return the pump at 0.6 of its speed, by the affinity laws."""
    return CurvePump(flow=0.6 * np.asarray(pump.flow), pressure=0.36 * np.asarray(pump.pressure))


def random_plumbing(seed: int, points: int = 8) -> Plumbing:
    """Return the plumbing of a seed with demands from none to beyond the pumps."""
    rng = np.random.default_rng(seed)
    made = Plumbing(points=points)
    made.reservoirs["tank"] = (ATMOSPHERE, 0.0)
    made.reservoirs["manifold"] = (ATMOSPHERE + rng.uniform(-7e4, 1e5), 0.5)
    made.nodes["main"] = rng.uniform(-0.3, 0.6)
    run_out = 0.0
    for number in range(rng.integers(1, 4)):
        outlet = f"outlet{number}"
        made.nodes[outlet] = rng.uniform(-0.3, 0.6)
        pump, flow = _pump(rng)
        run_out += flow
        source = "tank"
        if rng.random() < 0.3:
            made.nodes[f"inlet{number}"] = rng.uniform(-0.2, 0.2)
            made.links[f"suction{number}"] = (
                "tank",
                f"inlet{number}",
                Line(length=rng.uniform(0.1, 2.0), bore=rng.uniform(0.006, 0.016), loss_coefficient=2.0),
                None,
            )
            source = f"inlet{number}"
        made.links[f"pump{number}"] = (source, outlet, pump, None)
        joint: Part = CheckValve(cracking_pressure=rng.uniform(0.0, 2e4)) if rng.random() < 0.6 else _line(rng)
        made.links[f"joint{number}"] = (outlet, "main", joint, None)

    tree = ["main"]
    for number in range(rng.integers(1, 10)):
        name = f"n{number}"
        made.nodes[name] = rng.uniform(-0.3, 0.6)
        parent = str(rng.choice(tree))
        kind = rng.random()
        part: Part = _line(rng)
        if kind < 0.08:
            part = CheckValve(cracking_pressure=rng.uniform(0.0, 5e4))
        elif kind < 0.16:
            part = Orifice(diameter=rng.uniform(0.5e-3, 5e-3))
        elif kind < 0.24:
            part = ReducingRegulator(set_pressure=rng.uniform(2e4, 6e5), droop=_droop(rng))
        made.links[f"l{number}"] = (parent, name, part, None)
        tree.append(name)
    for number in range(rng.integers(0, 4)):
        up, down = (str(name) for name in rng.choice(tree, 2))
        if up != down:
            chord: Part = CheckValve() if rng.random() < 0.15 else _line(rng)
            made.links[f"chord{number}"] = (up, down, chord, None)
    for number in range(rng.choice([0, 1, 1, 2])):
        made.nodes[f"back{number}"] = rng.uniform(-0.3, 0.6)
        at = str(rng.choice(tree))
        regulator = ReturnRegulator(
            set_pressure=rng.uniform(1e5, 6e5),
            droop=_droop(rng),
            wide_open_pressure=rng.uniform(1e3, 1e5),
            back_pressure_coupling=float(rng.choice([0.0, 0.03])),
        )
        reference = str(rng.choice(["manifold", "atmosphere", "node"], p=[0.4, 0.4, 0.2]))
        looked_at = {"manifold": "manifold", "atmosphere": None, "node": f"back{number}"}[reference]
        made.links[f"regulator{number}"] = (at, f"back{number}", regulator, looked_at)
        made.links[f"return{number}"] = (f"back{number}", "tank", _line(rng), None)
    if rng.random() < 0.2:
        made.links["bleed"] = (str(rng.choice(tree)), "tank", Orifice(diameter=rng.uniform(0.3e-3, 2e-3)), None)
    if rng.random() < 0.15:
        up, down, pump, _ = made.links["pump0"]
        sensed = str(rng.choice(tree))
        made.links["pump0"] = (
            up,
            down,
            ControlledPump(
                pump=pump,
                set_pressure=rng.uniform(1e5, 5e5),
                droop=_droop(rng),
                base_pressure=made.reservoirs["manifold"][0] if seed % 2 else None,
                slowest=_slowed(pump) if seed % 3 else None,
            ),
            sensed,
        )

    level = np.concatenate([[0.0], np.linspace(0.02, 1.5, points - 1)])
    takers = [str(name) for name in rng.choice(tree, min(len(tree), rng.integers(1, 5)), replace=False)]
    shares = rng.dirichlet(np.ones(len(takers)))
    made.fixed_draws = bool(rng.random() < 0.4)
    for name, share in zip(takers, shares, strict=True):
        demand = level * share * run_out
        if made.fixed_draws:
            made.draws[name] = demand
        else:
            static = max(share * run_out * rng.uniform(0.3, 2.0), 8e-7)
            bank = Injectors(count=4, static_flow=min(static / 4.0, 1e-4), mass_demand=demand * PETROL.density)
            made.links[f"injectors_{name}"] = (name, "manifold", bank, None)
    return made
