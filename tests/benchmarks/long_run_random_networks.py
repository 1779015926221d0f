"""Long run of random networks, by seed: ``python tests/benchmarks/long_run_random_networks.py 0 100000``.

Each network is solved at five demands, and every tenth also from another start, with its links in another order, and
put back into each link's own law. What was found so far is printed every 5,000 networks.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "network"))

from random_runs import Tally, run

EVERY = 5000


def main() -> None:
    """Run the seeds from the first to before the last argument, and print what they came to."""
    first, last = (int(value) for value in sys.argv[1:3])
    start = time.perf_counter()
    total = Tally()
    for begin in range(first, last, EVERY):
        total.add(run(range(begin, min(begin + EVERY, last)), points=5, repeat_every=10))
        print(f"{time.perf_counter() - start:.0f} s: {total.sentence()}", flush=True)
        for seed, point in total.not_converged[:20]:
            print(f"  not converged: seed {seed}, point {point}", flush=True)
        for line in total.wrong[:20]:
            print(f"  wrong: {line}", flush=True)


if __name__ == "__main__":
    main()
