"""Time the waves of the twin-rail demo car: one second of one engine speed, and a pulsation over many.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_pulsation.py [speeds]``, 200 speeds if left out. Wanted
on one core: 2 s for the second, 60 s for the pulsation.
"""

from __future__ import annotations

import sys
import time

import numpy as np

import fuelsim as fs
from fuelsim.ripple.car_waves import car_waves
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.waves.march import march


def main():
    speeds = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    system = fs.Car.named("plover").system("pot")
    run = system.solve(rpm=[3000])
    waves = car_waves(run, np.array([0]), dynamics=Dynamics(), step=1e-4, firing_order=None, dampers={})
    setup = waves.setup
    steps = int(1.0 / setup.grid.step)
    start, busy = time.perf_counter(), time.process_time()
    march(setup.sweep, setup.nodes, setup.boundaries, steps, 10)
    busy, elapsed = time.process_time() - busy, time.perf_counter() - start
    print(
        f"1 s at 3000 rpm, step {setup.grid.step * 1e3:.4f} ms, {steps} steps: {busy:.2f} s of processor time, "
        f"{elapsed:.2f} s in all"
    )
    start, busy = time.perf_counter(), time.process_time()
    result = fs.pulsation(system, rpm=np.linspace(850.0, 6600.0, speeds), progress=False)
    busy, elapsed = time.process_time() - busy, time.perf_counter() - start
    print(f"{speeds} engine speeds: {busy:.1f} s of processor time, {elapsed:.1f} s in all")
    print(result)


if __name__ == "__main__":
    main()
