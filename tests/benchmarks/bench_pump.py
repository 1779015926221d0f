"""Pump curves behind a wire for many supply voltages: ours against a root finder called for each knot.

Run: python tests/benchmarks/bench_pump.py
"""

from __future__ import annotations

import time

import numpy as np
from scipy.optimize import brentq

from fuelsim.laws.motor import delivered_flow, loaded_voltage
from fuelsim.parts.pump.pump import Pump

POINTS, PEER_POINTS, KNOTS, REPEATS = 10_000, 10, 33, 7
WIRE = 0.06


def _ours(pump: Pump, supply: np.ndarray) -> float:
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        pump.at(supply_voltage=supply, wire_resistance=WIRE)
        times.append(time.perf_counter() - start)
    return min(times) / len(supply)


def _peer(pump: Pump, supply: np.ndarray) -> tuple[float, np.ndarray]:
    """Solve q(V(p), p) = q for p at each knot, one at a time."""
    bench = pump.map

    def flow(pressure: float, volts: float) -> float:
        current = np.interp(pressure, bench.pressure[::-1], bench.current[::-1])
        terminal, _ = loaded_voltage(volts, WIRE, current, bench.current_per_drive, bench.bench_drive, 1.0)
        return float(delivered_flow(bench, terminal, pressure))

    start = time.perf_counter()
    rise = np.empty((KNOTS, len(supply)))
    for i, volts in enumerate(supply):
        for j, wanted in enumerate(np.linspace(0.0, 1.0, KNOTS) * flow(0.0, volts)):
            rise[j, i] = brentq(lambda p, w=wanted, v=volts: flow(p, v) - w, -1e4, 1.6e6, xtol=1e-3)
    return (time.perf_counter() - start) / len(supply), rise


def main() -> None:
    """Print time per operating point, ratio and largest difference."""
    pump = Pump.named("in_tank_220").with_values({"relief_pressure": None})
    pump.at()
    ours = _ours(pump, np.linspace(9.0, 14.5, POINTS))
    few = np.linspace(9.0, 14.5, PEER_POINTS)
    peer, rise = _peer(pump, few)
    difference = np.max(np.abs(rise - pump.at(supply_voltage=few, wire_resistance=WIRE).rise))
    print(f"ours {ours * 1e6:.2f} us a curve of {KNOTS} knots ({ours * POINTS * 1e3:.0f} ms for {POINTS})")
    print(f"root finder {peer * 1e6:.0f} us, ratio {peer / ours:.0f}, largest difference {difference:.2g} Pa")


if __name__ == "__main__":
    main()
