"""Time the heat balance and the heat studies beside a peer in the same run.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/bench_heat.py``. The peer of a drive is the same integration
with the plumbing solved anew at every step instead of looked up; the peer of a margin map is a bisection of single
solutions
for one of its points, times all of them. What must hold: an eight-hour drive of one layout in under 5 s with the
rail pressure of the grid within 0.5 %, a map of 400 points in under 5 s, the balance at 100 points in under 1 ms.
"""

from __future__ import annotations

import time

import numpy as np

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.studies.margins import margin_map
from fuelsim.system.heat import HeatBalance, LinkHeat
from fuelsim.system.run import System
from fuelsim.transients.drive import drive
from fuelsim.transients.schedule import Schedule, typical_phase

TWIN_RAILS = """tank-strainer strainer-lift lift-pot pot-left_pump left_pump-left_check left_check-tee pot-right_pump
right_pump-right_check right_check-tee tee-filter filter-feed feed-front front-left_feed left_feed-left_rail
left_rail-left_rear front-right_feed right_feed-right_rail right_rail-right_rear left_rear-right_rear
left_rear-regulator regulator-return return-pot pot-tank left_rail-engine right_rail-engine"""


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


def time_balance():
    links = [link.split("-") for link in TWIN_RAILS.split()]
    names = list(dict.fromkeys(name for link in links for name in link))
    up, down = ([names.index(link[end]) for link in links] for end in (0, 1))
    incidence = np.zeros((len(names), len(links)))
    incidence[up, range(len(links))] -= 1.0
    incidence[down, range(len(links))] += 1.0
    free = [row for row, name in enumerate(names) if name not in ("tank", "engine")]
    rng = np.random.default_rng(1)
    print(f"{'links':>6s} {'points':>7s} {'first s':>9s} {'balance s':>10s} {'dense s':>9s} {'ratio':>6s}")
    for points in (1, 100, 1000, 10_000):
        flow = np.abs(rng.normal(0.02, 0.01, (len(links), points)))
        crossover = links.index(["left_rear", "right_rear"])
        flow[crossover] = rng.normal(0.0, 0.01, points)
        flow -= np.linalg.pinv(incidence[free]) @ (incidence[free] @ flow)
        conductance = np.broadcast_to(rng.choice([0.0, 0.5, 2.0], (len(links), 1)), flow.shape)
        around, power = rng.uniform(290.0, 350.0, flow.shape), 30.0 * (conductance > 0.0)
        heat = LinkHeat(flow, around, conductance, power, np.zeros(flow.shape))

        def solve(balance, heat=heat, points=points):
            return balance.solve(heat, np.full((1, points), 310.0), 2100.0, stagnant_temperature=310.0)

        _, first = timed(lambda solve=solve: solve(HeatBalance(len(names), up, down, [0])))
        balance = HeatBalance(len(names), up, down, [0])
        seconds = min(timed(lambda solve=solve, balance=balance: solve(balance))[1] for _ in range(20))
        size = len(names) - 1
        matrix = rng.uniform(0.0, 1.0, (points, size, size)) + size * np.eye(size)
        dense = min(
            timed(lambda matrix=matrix, size=size: np.linalg.solve(matrix, np.ones((size, 1))))[1] for _ in range(5)
        )
        print(f"{len(links):6d} {points:7d} {first:9.4f} {seconds:10.5f} {dense:9.5f} {dense / seconds:6.1f}")


if __name__ == "__main__":
    time_balance()
    time_drives()
    time_maps()
