"""Time a coupled sweep beside its network alone, in the same run.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_system.py``. The peer of each line is the bare network of
the same points with one liquid, so that the ratio says what heat, vapour and wiring cost on top of the hydraulics.
"""

from __future__ import annotations

import time

import numpy as np

import fuelsim as fs
from fuelsim.liquid import Liquid
from fuelsim.system import coupled_problem


def best(action, repeats=5):
    """Return the shortest of several wall times, s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def of_25_links():
    """Return the demo V8 with its pot, with a cooler, a bleed and two more lines: 25 links."""
    plover = fs.Car.named("plover")
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs[7] = ["left_rear", "rail_end", "behind"]
    runs += [["right_rear", "bleed", "bleed_hose", "behind"], ["behind", "fin_cooler", "return_hose", "pot"]]
    runs[0] = ["tank", "lift_strainer", "riser", "lift", "lift_line", "pot"]
    hose = fs.PlumbedLine(length="0.5 m", bore="8 mm", material="rubber")
    parts = {
        "lines.riser": hose,
        "lines.bleed_hose": hose,
        "orifices.bleed": fs.Orifice(diameter="0.6 mm"),
        "coolers.fin_cooler": fs.Cooler(),
    }
    return plover.with_values({**parts, "name": "25 links"}).with_plumbing("pot", runs=runs)


def main():
    print(
        f"{'car':12s} {'layout':16s} {'points':>7s} {'coupled s':>10s} {'network s':>10s} {'ratio':>6s}  solved, rounds"
    )
    for car in (fs.Car.named("finch"), fs.Car.named("heron"), fs.Car.named("plover"), of_25_links()):
        name = car.name
        for layout in car.layouts():
            system = car.system(layout)
            system.solve(rpm=[1000, 2000])
            speeds = np.linspace(car.engine.idle_speed, car.engine.red_line, 100)
            for conditions in (
                fs.Conditions(rpm=speeds),
                fs.Conditions.grid(rpm=speeds, tank_temperature=np.linspace(293.15, 333.15, 100)),
            ):
                run = system.solve(conditions)
                coupled = best(lambda system=system, conditions=conditions: system.solve(conditions))
                captured = {}
                solve = coupled_problem.Network.solve

                def capture(self, liquid, captured=captured, solve=solve, **options):
                    captured.setdefault("net", self)
                    return solve(self, liquid, **options)

                coupled_problem.Network.solve = capture
                system.solve(conditions)
                coupled_problem.Network.solve = solve
                petrol = Liquid(density=740.0, kinematic_viscosity=0.6e-6)
                alone = best(lambda net=captured["net"], petrol=petrol: net.solve(petrol))
                rounds = int(np.max(run.outcome.iterations))
                print(
                    f"{name:12s} {layout:16s} {run.outcome.code.size:7d} {coupled:10.4f} {alone:10.4f} "
                    f"{coupled / alone:6.1f}  {int(run.outcome.converged.sum())}, {rounds}"
                )


if __name__ == "__main__":
    main()
