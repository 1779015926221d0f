"""Speed of sizing: 2,000 combinations on 60 operating points, one core.

Run with ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_size.py``. Prints seconds of the best of three runs, the
processor's own seconds (others may run beside it), and the ratio to running a sample of the same cars one by one in
the same process.
"""

import time

import numpy as np

import fuelsim as fs
from fuelsim.studies.assessment import assess

CANDIDATES = {
    "pump": ["external_roller", "external_gerotor", "external_roller_competition", "external_gear_large"],
    "suction.bore": [f"{bore} mm" for bore in (6.5, 7.75, 8.74, 9.5, 10.9)],
    "feed.bore": [f"{bore} mm" for bore in (4.93, 6.52, 7.75, 8.74, 10.9)],
    "return_line.bore": [f"{bore} mm" for bore in (4.93, 6.52, 7.75, 8.74, 10.9)],
    "wire": ["awg_16", "awg_14", "awg_12", "awg_10"],
}
SAMPLE = 20


def main():
    car = fs.Car.named("heron").with_values({"injectors.static_flow": "370 mL/min"})
    fs.size(car, candidates={"feed.bore": ["6 mm"]}, progress=False)
    seconds, processor = [], []
    for _ in range(3):
        start, own = time.perf_counter(), time.process_time()
        result = fs.size(car, "return", CANDIDATES, progress=False)
        seconds.append(time.perf_counter() - start)
        processor.append(time.process_time() - own)
    points = result.conditions.points()["rpm"].size
    combinations = len(result.chosen)
    cars = [result.car_of(int(index)) for index in np.linspace(0, combinations - 1, SAMPLE).astype(int)]
    start = time.perf_counter()
    for one in cars:
        assess(one.system("return"), result.requirements, result.conditions)
    alone = (time.perf_counter() - start) / SAMPLE
    best = min(seconds)
    runs = ", ".join(f"{each:.2f}" for each in seconds)
    print(
        f"{combinations} combinations x {points} points: {best:.2f} s (runs {runs}), processor {min(processor):.2f} s"
    )
    print(
        f"{1e6 * best / combinations / points:.1f} us a point; one by one {1e3 * alone:.1f} ms a combination,", end=" "
    )
    print(f"in batch {1e3 * best / combinations:.2f} ms: {alone * combinations / best:.0f} times faster")
    print(result.sentence())


if __name__ == "__main__":
    main()
