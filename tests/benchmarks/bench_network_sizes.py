"""Speed of the network solver over the size of the network, beside EPANET's C engine on the same demands in one run.

Run with ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_network_sizes.py [REPETITIONS] [LARGEST] [POINTS]``. Ladders,
grids and trees are made by seed. Every drawn node has a draw of its own at every point, so that no point predicts
another. Times are processor time of this process, the least of several repetitions taken in turn by both.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "network"))

from epanet_judge import EpanetModel, Pipe
from plumbing import ATMOSPHERE, GRAVITY, PETROL, parabolic_pump

from fuelsim.network.network import Network
from fuelsim.network.solver.plan import make_plan
from fuelsim.parts.line import Line

SIZES = (14, 61, 221, 500, 3000)
POINTS = 200
HEAD = 740.0 * GRAVITY


@dataclass
class Made:
    """One network twice, and its draws."""

    net: Network
    model: EpanetModel
    draws: dict[str, Any]


def pairs_of(shape: str, links: int, random: np.random.Generator) -> list[tuple[int, int]]:
    """Pairs of node numbers of a shape with about so many links."""
    if shape == "ladder":
        steps = max((links - 2) // 3, 1)
        pairs = [(0, 1)]
        for step in range(steps):
            a, b = 2 * step, 2 * step + 1
            pairs += [(a, a + 2), (b, b + 2), (a + 2, b + 2)]
        return pairs
    if shape == "grid":
        side = max(round((1.0 + np.sqrt(1.0 + 2.0 * links)) / 2.0), 2)
        across = [(i * side + j, i * side + j + 1) for i in range(side) for j in range(side - 1)]
        down = [(i * side + j, (i + 1) * side + j) for i in range(side - 1) for j in range(side)]
        return across + down
    pairs = [(int(random.integers(max(node - 12, 0), node)), node) for node in range(1, links - links // 20)]
    nodes = len(pairs) + 1
    chords = [random.choice(nodes, 2, replace=False) for _ in range(links // 20)]
    return pairs + [(int(a), int(b)) for a, b in chords]


def made(shape: str, links: int, points: int, seed: int = 0) -> Made:
    """Build a network of a shape: one pump, lines sized for what flows, draws at every fifth node."""
    random = np.random.default_rng(seed)
    pairs = pairs_of(shape, links - 1, random)
    count = max(max(pair) for pair in pairs) + 1
    # Lines wide enough that a large network is not all loss.
    width = 0.008 * (links / 14.0) ** 0.3
    net = Network(ATMOSPHERE)
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for node in range(count):
        net.add_node(f"n{node}")
    net.connect("tank", "n0", parabolic_pump(), name="pump")
    pipes = {}
    for number, (a, b) in enumerate(pairs):
        length, bore = random.uniform(0.2, 0.6), random.uniform(0.8, 1.2) * width
        net.connect(f"n{a}", f"n{b}", Line(length=length, bore=bore), name=f"l{number}")
        pipes[f"l{number}"] = Pipe(f"n{a}", f"n{b}", length, bore, 1.5e-6)
    drawn = random.choice(count, max(count // 5, 2), replace=False)
    base = 0.04e-3 * random.dirichlet(np.ones(drawn.size))
    draws = {
        f"n{node}": flow * random.uniform(0.3, 1.4, points) for node, flow in zip(drawn.tolist(), base, strict=True)
    }
    model = EpanetModel(
        junctions={f"n{node}": 0.0 for node in range(count)},
        reservoirs={"tank": 0.0},
        pipes=pipes,
        pumps={"pump": ("tank", "n0", [(0.04, 60.0)])},
    )
    return Made(net, model, draws)


def least_times(runs: dict[str, Callable[[], Any]], repetitions: int) -> dict[str, float]:
    """Run all in turn several times and return the least processor time of each, s."""
    least = dict.fromkeys(runs, np.inf)
    for _ in range(repetitions):
        for name, run in runs.items():
            start = time.process_time()
            run()
            least[name] = min(least[name], time.process_time() - start)
    return least


def row(shape: str, links: int, points: int, repetitions: int) -> str:
    """Times of one network as a line of the table."""
    points = points if links <= 500 else min(points, 20)
    case = made(shape, links, points)
    net, model = case.net, case.model
    nodes = [model.node(name) for name in case.draws]
    rows = list(zip(*(values.tolist() for values in case.draws.values()), strict=True))

    def epanet(cold: bool) -> None:
        for draws in rows:
            for node, draw in zip(nodes, draws, strict=True):
                model.set_demand(node, draw)
            model.solve(cold=cold)
            model.read()

    def ours() -> Any:
        state = net.solve(PETROL, case.draws)
        for name in net.nodes:
            state.pressure[name]
        for name in net.links:
            state.flow[name]
        return state

    single = {name: float(draw[0]) for name, draw in case.draws.items()}

    def afresh() -> None:
        make_plan.cache_clear()
        built = Network(ATMOSPHERE)
        built.nodes, built.reservoirs, built.links = net.nodes, net.reservoirs, net.links
        built.solve(PETROL, single)

    state = ours()
    for node, draw in zip(nodes, rows[-1], strict=True):
        model.set_demand(node, draw)
    model.solve()
    heads, _ = model.results()
    worst = max(abs(state.gauge_pressure[name][-1] / HEAD - heads[name]) for name in net.nodes)
    least = least_times(
        {
            "cold": lambda: epanet(True),
            "warm": lambda: epanet(False),
            "ours": ours,
            "one": lambda: net.solve(PETROL, single),
            "afresh": afresh,
        },
        repetitions,
    )
    model.close()
    ours, cold, warm = (least[name] / points * 1e6 for name in ("ours", "cold", "warm"))
    return (
        f"{shape:7s} {len(net.links):5d} {points:5d} {ours:9.1f} {cold:9.1f} {warm:9.1f} {cold / ours:7.2f} "
        f"{warm / ours:7.2f} {least['one'] * 1e3:8.2f} {least['afresh'] * 1e3:8.2f} "
        f"{np.mean(state.outcome.iterations):5.1f} {np.count_nonzero(state.outcome.converged):5d} {worst:8.4f}"
    )


def main() -> None:
    """Print the table."""
    repetitions = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    largest = int(sys.argv[2]) if len(sys.argv) > 2 else max(SIZES)
    points = int(sys.argv[3]) if len(sys.argv) > 3 else POINTS
    print("us a point: ours, EPANET's C engine cold and warm, and their ratios to ours; ms of one point in one call,")
    print("with its plan known and afresh; mean iterations, points solved, largest difference of head, m (of about 80)")
    print("shape   links points      ours      cold      warm    cold    warm      one   afresh  iter solved    worst")
    for shape in ("ladder", "grid", "tree"):
        for links in SIZES:
            if links <= largest:
                print(row(shape, links, points, repetitions), flush=True)


if __name__ == "__main__":
    main()
