"""Time 8,192 samples of a rev sweep of 60 points with heat and vapour, against one call for each sample.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_uncertainty.py``. What must hold on one core: under 60 s.
"""

from __future__ import annotations

import time

import numpy as np

import fuelsim as fs

SAMPLES, ALONE = 8192, 64


def main():
    system, rpm = fs.Car.named("finch").system("return"), np.linspace(800.0, 6000.0, 60)
    system.solve(rpm=rpm)
    busy = time.process_time()
    result = fs.uncertainty(system, rpm=rpm, samples=SAMPLES, progress=False)
    busy = time.process_time() - busy
    alone = time.process_time()
    for _ in range(ALONE):
        system.solve(rpm=rpm)
    alone = (time.process_time() - alone) / ALONE * SAMPLES
    print(result)
    print(f"{SAMPLES} samples of 60 points: {busy:.1f} s of processor time; one call for each sample {alone:.0f} s,")
    print(f"{alone / busy:.1f} times as long")


if __name__ == "__main__":
    main()
