"""Time one second of pressure waves in a net of eleven lines: feed, two rails with crossover, regulator, return.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_waves.py [points]``, with as many engine speeds at
once, one if left out. Wanted on one core: 2 s for one point, 60 s for 200.
"""

from __future__ import annotations

import sys
import time

import numpy as np

import fuelsim as fs


def twin_rail_network():
    net = fs.Network()
    net.add_reservoir("pump", "500 kPa")
    net.add_reservoir("tank", "105 kPa")
    for name in ("out", "tee", "regulator", *(f"{side}{number}" for side in ("left", "right") for number in range(4))):
        net.add_node(name)
    net.connect("pump", "out", fs.Orifice(diameter="2 mm"), name="filter")
    lines = [("out", "tee", "3.5 m", "8 mm"), ("tee", "left0", "0.5 m", "8 mm"), ("tee", "right0", "0.8 m", "8 mm")]
    for side in ("left", "right"):
        lines += [(f"{side}{number}", f"{side}{number + 1}", "0.2 m", "12 mm") for number in range(3)]
    lines += [("left3", "right3", "0.6 m", "8 mm"), ("regulator", "tank", "3 m", "6 mm")]
    for up, down, length, bore in lines:
        net.connect(up, down, fs.Line(length=length, bore=bore), name=f"{up} to {down}")
    net.connect("right3", "regulator", fs.ReturnRegulator(set_pressure="300 kPa"), name="hold")
    return net


def main():
    points = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    cycles = np.linspace(800.0, 6000.0, points) / 120.0

    def injector(number):
        return lambda time: 4e-6 * ((time * cycles + 0.25 * number) % 1.0 < 0.3)

    draw = {name: injector(number) for number, name in enumerate(("left1", "left2", "right1", "right2"))}
    liquid = fs.Liquid(density=740.0, kinematic_viscosity=0.6e-6)
    net = twin_rail_network()
    net.solve(liquid)
    start, busy = time.perf_counter(), time.process_time()
    result = net.transient(liquid, "1 s", draw=draw)
    busy, elapsed = time.process_time() - busy, time.perf_counter() - start
    print(f"{points} points, step {result.step * 1e3:.4f} ms: {busy:.2f} s of processor time, {elapsed:.2f} s in all")
    print(result)


if __name__ == "__main__":
    main()
