"""Time 72 climate cells: three demo cars, their layouts, eight places.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_climates.py [bands]``, without bands one drive a cell,
with them three and the limits of boiling. What must hold on one core: under 90 s without, under 180 s with.
"""

from __future__ import annotations

import sys
import time

import fuelsim as fs


def main():
    bands = sys.argv[1:] == ["bands"]
    total = 0.0
    for name in ("finch", "heron", "plover"):
        start, busy = time.perf_counter(), time.process_time()
        found = fs.over_climates([fs.Car.named(name)], bands=bands, wrong_fuel=False, progress=False)
        busy, elapsed = time.process_time() - busy, time.perf_counter() - start
        total += busy
        print(
            f"{name:8s} {len(found.rows)} cells, {busy:6.1f} s of processor time, {elapsed:6.1f} s in all", flush=True
        )
    print(f"all {total:.1f} s of processor time, {'with' if bands else 'without'} bands")


if __name__ == "__main__":
    main()
