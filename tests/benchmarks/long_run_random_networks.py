"""Long run of random networks, by seed: ``python tests/benchmarks/long_run_random_networks.py 0 100000``.

Each network is solved at five demands, and every tenth also from another start and with its links in another order.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "network"))

from random_runs import run


def main() -> None:
    """Run the seeds from the first to before the last argument, and print what they came to."""
    first, last = (int(value) for value in sys.argv[1:3])
    start = time.perf_counter()
    tally = run(range(first, last), points=5, repeat_every=10)
    print(tally.sentence())
    for seed, point in tally.not_converged[:20]:
        print(f"  not converged: seed {seed}, point {point}")
    for line in tally.wrong[:20]:
        print(f"  wrong: {line}")
    print(f"  {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
