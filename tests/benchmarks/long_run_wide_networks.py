"""Long run of wide random networks, by seed: ``python tests/benchmarks/long_run_wide_networks.py 0 3000``.

Each is solved at seven draws from none to nine times its base. Every point that did not converge, and a share of all
others given as third argument (0.12, which is 1,000 of 20,000), is put to scipy from 20 starts where the network has no
more than 40 links, every tenth of the largest draws said to work is bisected. The counts so far, by class, are printed
every 100 networks.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "network"))

from wide_runs import WideTally, run_wide

EVERY = 100


def main() -> None:
    """Run the seeds from the first to before the last argument, and print what they came to."""
    first, last = (int(value) for value in sys.argv[1:3])
    judged_share = float(sys.argv[3]) if len(sys.argv) > 3 else 0.12
    start = time.perf_counter()
    total = WideTally()
    for begin in range(first, last, EVERY):
        total.add(run_wide(range(begin, min(begin + EVERY, last)), judged_share=judged_share, bisect_every=10))
        print(f"{time.perf_counter() - start:.0f} s: {total.sentence()}", flush=True)
        for name in ("not_converged", "missed", "differing", "limits_wrong"):
            if getattr(total, name):
                print(f"  {name}: {getattr(total, name)[:30]}", flush=True)
        for line in total.wrong[:20]:
            print(f"  wrong: {line}", flush=True)


if __name__ == "__main__":
    main()
