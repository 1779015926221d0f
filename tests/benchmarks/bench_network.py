"""Speed of the network solver beside EPANET's C engine, on the same demands in one run.

Run with ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_network.py``. Every figure is the least of several
repetitions taken in turn by both, because other work on the machine only ever adds time.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "network"))

from epanet_judge import EpanetModel, Pipe, looped_model
from plumbing import ATMOSPHERE, GRAVITY, L_H, PETROL, looped_net, looped_net_data, parabolic_pump

from fuelsim.network.network import Network
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.line import Line
from fuelsim.parts.regulator import ReturnRegulator

POINTS = 10_000
HEAD = 740.0 * GRAVITY


def factors(points: int = POINTS) -> Any:
    """The demand sweep of the looped pump net."""
    return 0.1 + np.mod(np.arange(points) * 0.6180339887498949, 1.0)


def least_times(runs: dict[str, Callable[[], Any]], repetitions: int) -> dict[str, float]:
    """Run all in turn several times and return the least time of each, s."""
    least = dict.fromkeys(runs, np.inf)
    for _ in range(repetitions):
        for name, run in runs.items():
            start = time.perf_counter()
            run()
            least[name] = min(least[name], time.perf_counter() - start)
    return least


def read_all(net: Network, state: Any) -> list[Any]:
    """Read every pressure and flow, as the peer does."""
    return [state.pressure[name] for name in net.nodes] + [state.flow[name] for name in net.links]


def report(title: str, least: dict[str, float], points: int, ours: str, difference: str) -> None:
    """Print times per point and the ratios to ours."""
    print(f"\n{title}")
    for name, seconds in least.items():
        ratio = "" if name == ours else f"   {seconds / least[ours]:6.2f} times ours"
        print(f"  {name:44s} {seconds / points * 1e6:9.3f} us a point{ratio}")
    print(f"  {difference}")


def looped_demands(repetitions: int, several: bool) -> None:
    """Demands of the looped pump net, one common factor or four independent ones."""
    net, draws = looped_net()
    model = looped_model(looped_net_data())
    random = np.random.default_rng(1)
    sets = {name: draw * (random.uniform(0.1, 1.1, POINTS) if several else factors()) for name, draw in draws.items()}
    nodes = [model.node(f"N{name}") for name in sets]
    rows = list(zip(*(values.tolist() for values in sets.values()), strict=True))

    def epanet(cold: bool) -> None:
        for row in rows:
            for node, draw in zip(nodes, row, strict=True):
                model.set_demand(node, draw)
            model.solve(cold=cold)
            model.read()

    state = net.solve(PETROL, sets)
    worst = 0.0
    number = {name: model.node(f"N{name}") - 1 for name in net.nodes}
    for point in range(0, POINTS, 97):
        for node, draw in zip(nodes, rows[point], strict=True):
            model.set_demand(node, draw)
        model.solve()
        heads, _ = model.read()
        for name, index in number.items():
            ours = state.gauge_pressure[name][point] / HEAD
            worst = max(worst, abs(ours - heads[index]) / abs(heads[index]))
    least = least_times(
        {
            "EPANET C engine, cold": lambda: epanet(True),
            "EPANET C engine, warm": lambda: epanet(False),
            "fuelsim": lambda: read_all(net, net.solve(PETROL, sets)),
        },
        repetitions,
    )
    what = "four independent draws" if several else "one factor on four draws"
    said = (
        f"largest head difference {worst * 100:.4f} %; {state.outcome.summary()}; residuals at most "
        f"{state.outcome.pressure_residual.max():.2g} Pa, {state.outcome.flow_residual.max():.2g} of the flow, "
        f"mass {state.outcome.mass_residual.max():.2g}"
    )
    report(f"Looped pump net, {POINTS} demand sets, {what}", least, POINTS, "fuelsim", said)
    model.close()


def looped_bores(repetitions: int) -> None:
    """A sweep over the bores of two lines instead of demands."""
    net, draws = looped_net()
    model = looped_model(looped_net_data())
    tubes = {tube["name"]: tube for tube in looped_net_data()["tubes"]}
    scale = 0.8 + 0.4 * np.mod(np.arange(POINTS) * 0.6180339887498949, 1.0)
    changed = ("hose1", "a1")
    parts = {
        name: Line(
            length=tubes[name]["length_m"],
            bore=tubes[name]["bore_m"] * scale,
            roughness=tubes[name]["roughness_m"],
            loss_coefficient=tubes[name]["loss_coefficient"],
        )
        for name in changed
    }
    for name, draw in draws.items():
        model.set_demand(model.node(f"N{name}"), draw)
    links = [(model.link(name), parts[name].bore.tolist()) for name in changed]

    def epanet() -> None:
        for point in range(POINTS):
            for link, bores in links:
                model.set_bore(link, bores[point])
            model.solve()
            model.read()

    sized = net.with_parts(parts)
    state = sized.solve(PETROL, draws)
    worst = 0.0
    for point in range(0, POINTS, 97):
        for link, bores in links:
            model.set_bore(link, bores[point])
        model.solve()
        heads, _ = model.results()
        worst = max(worst, abs(state.gauge_pressure["9"][point] / HEAD - heads["N9"]) / heads["N9"])
    least = least_times(
        {
            "EPANET C engine, cold": epanet,
            "fuelsim": lambda: read_all(net, net.with_parts(parts).solve(PETROL, draws)),
        },
        repetitions,
    )
    said = f"largest head difference at 9: {worst * 100:.4f} %; {state.outcome.summary()}"
    report(f"Looped pump net, {POINTS} bores of two lines", least, POINTS, "fuelsim", said)
    model.close()


def return_layout() -> Network:
    """Tank, pump, check valve, feed, rail, return regulator, return."""
    net = Network(ATMOSPHERE)
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("outlet", "valve", "rail", "back"):
        net.add_node(name)
    net.connect("tank", "outlet", parabolic_pump(), name="pump")
    net.connect("outlet", "valve", CheckValve(cracking_pressure=0.0, open_pressure=10.0), name="check")
    net.connect("valve", "rail", Line(length=3.0, bore=0.008, loss_coefficient=1.0), name="feed")
    regulator = ReturnRegulator(set_pressure=3e5, droop=500.0 / (200.0 * L_H), wide_open_pressure=100.0)
    net.connect("rail", "back", regulator, name="regulator")
    net.connect("back", "tank", Line(length=0.5, bore=0.008), name="return")
    return net


def return_model() -> EpanetModel:
    """The same with EPANET's valves: a pressure sustaining valve and a check valve."""
    return EpanetModel(
        junctions={"outlet": 0.0, "valve": 0.0, "rail": 0.0, "back": 0.0},
        reservoirs={"tank": 0.0},
        pipes={
            "check": Pipe("outlet", "valve", 0.001, 0.008, 1.5e-6),
            "feed": Pipe("valve", "rail", 3.0, 0.008, 1.5e-6, 1.0),
            "return": Pipe("back", "tank", 0.5, 0.008, 1.5e-6),
        },
        pumps={"pump": ("tank", "outlet", [(0.04, 60.0)])},
        valves={"regulator": ("rail", "back", "PSV", 3e5 / HEAD)},
        check_valves=["check"],
    )


def return_layouts(repetitions: int) -> None:
    """Demand through the changeover of a return regulator."""
    net, model = return_layout(), return_model()
    flows = (factors() - 0.1) * 250.0 * L_H
    rail = model.node("rail")

    def epanet() -> None:
        for flow in flows.tolist():
            model.set_demand(rail, flow)
            model.solve()
            model.read()

    state = net.solve(PETROL, {"rail": flows})
    worst = 0.0
    for point in range(0, POINTS, 97):
        model.set_demand(rail, float(flows[point]))
        model.solve()
        heads, _ = model.results()
        worst = max(worst, abs(state.gauge_pressure["rail"][point] - heads["rail"] * HEAD))
    least = least_times(
        {
            "EPANET C engine, cold": epanet,
            "fuelsim": lambda: read_all(net, net.solve(PETROL, {"rail": flows})),
        },
        repetitions,
    )
    said = f"largest rail pressure difference {worst / 1e3:.3f} kPa (droop 0.5 kPa); {state.outcome.summary()}"
    report(f"Return layout, {POINTS} draws", least, POINTS, "fuelsim", said)
    model.close()


def single_points(repetitions: int) -> None:
    """One operating point in one call."""
    net, draws = looped_net()
    layout = return_layout()
    least = least_times(
        {
            "looped pump net, 14 links": lambda: read_all(net, net.solve(PETROL, draws)),
            "return layout, 5 links": lambda: read_all(layout, layout.solve(PETROL, {"rail": 50.0 * L_H})),
        },
        40 * repetitions,
    )
    print("\nOne operating point in one call")
    for name, seconds in least.items():
        print(f"  {name:44s} {seconds * 1e3:9.3f} ms")


def ladder(links: int) -> tuple[Network, dict[str, float]]:
    """A pump on a ladder of loops with about so many links."""
    net = Network(ATMOSPHERE)
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    steps = max((links - 2) // 3, 1)
    for step in range(steps + 1):
        net.add_node(f"a{step}")
        net.add_node(f"b{step}")
    net.connect("tank", "a0", parabolic_pump(), name="pump")
    net.connect("a0", "b0", Line(length=0.3, bore=0.008), name="rung0")
    for step in range(steps):
        bore = 0.006 + 0.004 * ((step * 7) % 5) / 5.0
        net.connect(f"a{step}", f"a{step + 1}", Line(length=0.4, bore=bore), name=f"left{step}")
        net.connect(f"b{step}", f"b{step + 1}", Line(length=0.5, bore=0.008), name=f"right{step}")
        net.connect(f"a{step + 1}", f"b{step + 1}", Line(length=0.3, bore=0.006), name=f"rung{step + 1}")
    return net, {f"b{step}": 100.0 * L_H / (steps + 1) for step in range(steps + 1)}


def growth(repetitions: int) -> None:
    """How the cost grows with the number of links."""
    print("\nLadders of loops, 2048 points of one factor on all draws")
    for links in (10, 20, 50, 100, 200):
        net, draws = ladder(links)
        sets = {name: draw * factors(2048) for name, draw in draws.items()}
        least = least_times(
            {
                "batch": lambda net=net, sets=sets: net.solve(PETROL, sets),
                "single": lambda net=net, draws=draws: net.solve(PETROL, draws),
            },
            repetitions,
        )
        print(
            f"  {len(net.links):4d} links {least['batch'] / 2048 * 1e6:9.3f} us a point, "
            f"{least['batch'] / 2048 / len(net.links) * 1e9:7.1f} ns a link; one point {least['single'] * 1e3:7.3f} ms"
        )


def main() -> None:
    """Run all."""
    repetitions = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    looped_demands(repetitions, several=False)
    looped_demands(repetitions, several=True)
    looped_bores(repetitions)
    return_layouts(repetitions)
    single_points(repetitions)
    growth(repetitions)


if __name__ == "__main__":
    main()
