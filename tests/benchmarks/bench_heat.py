"""Time the heat studies beside a peer in the same run.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_heat.py``. The peer of a drive is the same integration
with the plumbing solved anew at every step instead of looked up; the peer of a margin map is a bisection of single
solutions
for one of its points, times all of them. What must hold: an eight-hour drive of one layout in under 5 s with the
rail pressure of the grid within 0.5 %, a map of 400 points in under 5 s.
"""

from __future__ import annotations

import time

import numpy as np

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.studies.margins import margin_map
from fuelsim.system.run import System
from fuelsim.transients.drive import drive
from fuelsim.transients.schedule import Schedule, typical_phase


def eight_hours(car):
    return Schedule.of(
        [
            typical_phase("city", "1 h", car),
            typical_phase("jam", "3 h", car),
            typical_phase("motorway", "20 min", car),
            typical_phase("climb", "20 min", car, end_altitude="1500 m"),
            typical_phase("stop", "20 min", car),
            typical_phase("jam", "3 h", car),
        ],
        start_time="9 h",
    )


def timed(action):
    start = time.perf_counter()
    result = action()
    return result, time.perf_counter() - start


def time_drives():
    print(
        f"{'car':12s} {'layout':16s} {'s':>6s} {'steps solved':>12s} {'solved anew, s':>14s} {'grid error':>10s} "
        f"{'heat error':>10s} {'mass error':>10s}"
    )
    for name in ("finch", "heron"):
        car = fs.Car.named(name)
        car = car.with_values({"tank.fuel_volume": 0.95 * car.tank.volume})
        for layout in ("return", "returnless_tank"):
            result, seconds = timed(
                lambda car=car, layout=layout: drive(car, layout, eight_hours(car), climate=hot_day("madrid"))
            )
            system = System(car, layout)
            single = fs.Conditions(rpm=car.engine.idle_speed, load=0.0, tank_temperature=310.0)
            system.solve(single)
            _, once = timed(lambda system=system, single=single: [system.solve(single) for _ in range(20)])
            steps = 2000  # evaluations that the integration of such a drive makes
            print(
                f"{name:12s} {layout:16s} {seconds:6.2f} {len(result.time):12d} {once / 20 * steps:14.1f} "
                f"{result.interpolation_error:10.1e} {result.ledger.error:10.1e} {result.mass_error:10.1e}"
            )


def time_maps():
    car = fs.Car.named("heron")
    axes = {"vapour_pressure": np.linspace(45e3, 95e3, 20), "altitude": np.linspace(0.0, 3500.0, 20)}
    found, seconds = timed(lambda: margin_map(car, "return", axes))
    system = car.system("return")

    def bisected():
        low, high = 280.0, 345.0
        for _ in range(12):
            middle = 0.5 * (low + high)
            run = system.solve(rpm=car.engine.idle_speed, load=0.0, tank_temperature=middle)
            low, high = (middle, high) if float(run.vapour_margin["pump_inlet"]) > 0.0 else (low, middle)
        return low

    _, one = timed(bisected)
    points = found.limit["pump_inlet"].size
    peer = one * points
    print(f"margin map of {points} points: {seconds:.2f} s; by bisection {peer:.0f} s, ratio {peer / seconds:.0f}")


if __name__ == "__main__":
    time_drives()
    time_maps()
