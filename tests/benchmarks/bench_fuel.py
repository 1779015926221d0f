"""Speed of the fuel model. Run with ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_fuel.py``.

Each figure is the best of several runs; thermo, the peer, runs in the same process,
so that their ratio holds on any machine.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from fuelsim.fuel.fuel import Fuel


def best(call: Callable[[], object], runs: int = 5) -> float:
    """Return the least wall time of several runs, s."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    """Print the figures."""
    rng = np.random.default_rng(1)
    fuel = Fuel.named("summer_e10")
    t, p = rng.uniform(280.0, 400.0, 100_000), rng.uniform(2e4, 6e5, 100_000)
    start = time.perf_counter()
    tables = fuel.tables()
    print(f"tables of one fuel, built once              {1e3 * (time.perf_counter() - start):8.1f} ms")
    for name in ("density", "viscosity", "heat_capacity", "bubble_pressure"):
        lookup = getattr(tables, name)
        print(f"100,000 lookups of {name:24s} {1e3 * best(lambda f=lookup: f(t)):8.1f} ms")
    for name in ("vapour_liquid_ratio", "vapour_liquid_ratio_after_drop"):
        lookup = getattr(tables, name)
        print(f"100,000 lookups of {name:30s}   {1e3 * best(lambda f=lookup: f(t, p)):6.1f} ms  (at most 1 s)")
    few_t, few_p = t[:1000], p[:1000]
    direct = best(lambda: fuel.flash(few_t, few_p))
    print(f"1,000 direct flashes                        {1e3 * direct:8.1f} ms  (at most 1 s)")
    print(
        f"1,000 direct adiabatic drops                {1e3 * best(lambda: fuel.adiabatic_flash(few_t, few_p)):8.1f} ms"
    )
    looked_up = best(lambda: tables.vapour_liquid_ratio(few_t, few_p))
    print(f"table against direct flash                  {direct / looked_up:8.0f} times as fast")
    print(f"petrol of a vapour pressure                 {1e3 * best(lambda: Fuel.petrol('61 kPa', 0.1)):8.1f} ms")
    whole = best(lambda: Fuel.petrol("61 kPa", t10="53 degC", t50="101 degC", t90="156 degC"), 2)
    print(f"petrol of a vapour pressure and T10 T50 T90 {1e3 * whole:8.1f} ms")
    print(f"distillation curve                          {1e3 * best(lambda: _fresh().distillation(), 3):8.1f} ms")
    _against_thermo(few_t, few_p)


def _fresh() -> Fuel:
    return Fuel(Fuel.named("summer_e10").names, Fuel.named("summer_e10").fractions)


def _against_thermo(t: np.ndarray, p: np.ndarray) -> None:
    try:
        import thermo
    except ImportError:
        print("thermo is not installed; no peer")
        return
    fuel = Fuel.named("summer_e0")
    names = [{"isooctane": "2,2,4-trimethylpentane"}.get(name, name) for name in fuel.names]
    constants, correlations = thermo.ChemicalConstantsPackage.from_IDs(names)
    z = list(fuel.fractions)
    eos = {"Tcs": constants.Tcs, "Pcs": constants.Pcs, "omegas": constants.omegas}
    gas, liquid = (
        kind(thermo.PRMIX, eos, HeatCapacityGases=correlations.HeatCapacityGases, T=310.0, P=1e5, zs=z)
        for kind in (thermo.CEOSGas, thermo.CEOSLiquid)
    )
    flasher = thermo.FlashVL(constants, correlations, liquid=liquid, gas=gas)
    few = 20
    theirs = best(lambda: [flasher.flash(T=a, P=b, zs=z) for a, b in zip(t[:few], p[:few], strict=True)], 2) / few
    ours = best(lambda: fuel.flash(t, p)) / t.size
    print(
        f"flash: thermo (Peng-Robinson, one by one)   {1e3 * theirs:8.3f} ms; ours {1e3 * ours:.3f} ms a point, "
        f"{theirs / ours:.0f} times as fast"
    )


if __name__ == "__main__":
    main()
