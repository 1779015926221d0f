"""Pulsation of a fuel system over the engine speed: ripple of the rails, and how evenly the injectors deliver."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.interruption import Completion, run_steps
from fuelsim.network.state import ByName
from fuelsim.parts.damper import Damper
from fuelsim.ripple.car_waves import CarWaves, car_waves, points_of
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.ripple.measure import Measured, measure
from fuelsim.ripple.result import CRANK_ANGLE, Pulsation, RailPulsation
from fuelsim.ripple.transfer import swings_by_transfer
from fuelsim.system.conditions import CONDITIONS, ONE_CONDITION, Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.results import Run
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, IndexArray
from fuelsim.waves.transient import lines_of

__all__ = ["POINTS_AT_ONCE", "STEP", "pulsation", "run_at", "usual_speeds"]

POINTS_AT_ONCE = 100
"""Engine speeds computed at once."""
STEP = number("time", 1e-5, 1e-3, example="0.1 ms", single=True)
"""Greatest time step of waves in a car, s."""
_MOST_SPEEDS = 1000
_LEAST_SPEED = 100.0
"""Engine speed below which a cycle takes longer than waves matter, rpm."""


def usual_speeds(car: Car, count: int) -> FloatArray:
    """Return engine speeds from idle to the red line, (count,), rpm.

    Parameters
    ----------
    car : Car
    count : int
    """
    return np.linspace(float(car.engine.idle_speed), float(car.engine.red_line), count)


def run_at(
    system: System, rpm: Given | None, load: Given, tank_temperature: Given | None, speeds: int
) -> tuple[Run, IndexArray]:
    """Return the steady run at some engine speeds and the points at which the engine runs.

    Parameters
    ----------
    system : System
    rpm, load, tank_temperature
        As `pulsation` takes them.
    speeds : int
        Number of engine speeds where none are given.

    Raises
    ------
    InputError
        Where the engine runs at none of them, or for a grid of conditions.
    """
    asked = usual_speeds(system.car, speeds) if rpm is None else np.atleast_1d(np.asarray(rpm, dtype=float))
    if np.any(asked < _LEAST_SPEED):
        raise InputError(
            "an engine that hardly turns",
            given=float(asked.min()),
            accepted=f"{_LEAST_SPEED:.0f} rpm or more",
            key="rpm",
        )
    if asked.ndim != 1 or len(asked) > _MOST_SPEEDS:
        raise InputError(f"{asked.size:,} engine speeds", accepted=f"a list of up to {_MOST_SPEEDS:,}", key="rpm")
    run = system.solve(Conditions(rpm=asked, load=load, tank_temperature=tank_temperature))
    points = points_of(run)
    if not len(points):
        raise InputError("the engine does not run", given=run.outcome.summary(), accepted="speeds at which it does")
    return run, points


@system_or_car
@takes(
    {
        "rpm": CONDITIONS["rpm"],
        "load": ONE_CONDITION["load"],
        "tank_temperature": ONE_CONDITION["tank_temperature"],
        "step": STEP,
    }
)
def pulsation(
    system: System,
    rpm: Given | None = None,
    *,
    load: Given = 1.0,
    tank_temperature: Given | None = None,
    dynamics: Dynamics | None = None,
    dampers: Mapping[str, Damper] | None = None,
    firing_order: Sequence[int] | None = None,
    step: Given = "0.1 ms",
    progress: bool | None = None,
) -> Pulsation:
    """Return how the pressure of each rail pulsates over the engine speed, and how evenly the injectors deliver.

    The car's own lines and rails carry pressure waves by the method of characteristics, from the steady flow of each
    operating point. Injectors stand evenly along their rail and open in the firing order for the pulse that the
    operating point asks for; regulators have mass and damping, pumps a rotor and ripple, hoses damp. All of it runs
    until it repeats itself, and the last whole cycles are measured. Exact lines in the domain of frequencies give the
    same ripple by a second method, without the pumps'.

    Parameters
    ----------
    system : System, or Car and layout
    rpm : list of quantity, optional
        Engine speeds, rpm; 60 from idle to the red line, if left out.
    load : quantity, optional
        Fraction of the full-load air charge.
    tank_temperature : quantity, optional
        K; the car's own, if left out.
    dynamics : Dynamics, optional
        How parts move, where you know better than the defaults.
    dampers : mapping of str to Damper, optional
        Dampers beside those of the car, by the station at which they stand.
    firing_order : list of int, optional
        Numbers of the injectors from 1, along the first rail and then the next, in the order in which they open; the
        usual order for their number, if left out.
    step : quantity, optional
        Greatest time step, s; the one used moves no wave speed by more than 1 %.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.

    Returns
    -------
    Pulsation
        After Ctrl-C with the speeds that are finished.

    Raises
    ------
    InputError
        For values that are not accepted, or an engine that runs at no speed.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = pulsation(fs.Car.named("finch").system("return"), rpm=[3000])
    >>> bool(1e3 < result.rails["rail"].ripple[0] < 30e3)
    True
    """
    moving = Dynamics() if dynamics is None else dynamics
    greatest_step = float(np.asarray(STEP.convert(step)))
    run, points = run_at(system, rpm, load, tank_temperature, 60)

    def work(part: IndexArray) -> tuple[CarWaves, Measured, Mapping[str, FloatArray]]:
        waves = car_waves(
            run, part, dynamics=moving, step=greatest_step, firing_order=firing_order, dampers=dampers or {}
        )
        by_transfer = swings_by_transfer(waves, moving)
        return waves, measure(waves), by_transfer

    parts = np.array_split(points, int(np.ceil(len(points) / POINTS_AT_ONCE)))
    finished, completion = run_steps(parts, work, doing="pulsation", of="groups of engine speeds", progress=progress)
    if not finished:
        raise KeyboardInterrupt
    return _collected(system, run, list(zip(parts, finished, strict=False)), completion)


def _collected(
    system: System,
    run: Run,
    finished: Sequence[tuple[IndexArray, tuple[CarWaves, Measured, Mapping[str, FloatArray]]]],
    completion: Completion,
) -> Pulsation:
    """Return the groups of speeds as one result; NaN where the engine does not run."""
    count = np.size(run.conditions.rpm)
    first = finished[0][1][0]
    names = list(first.network.nodes)

    def together(values: Sequence[FloatArray]) -> FloatArray:
        out = np.full((len(values[0]), count), np.nan)
        for (part, _), own in zip(finished, values, strict=True):
            out[:, part] = own
        return out

    free = len(names)
    measured = [each for _, (_, each, _) in finished]
    unsolved = together([each.unsolved[None].astype(float) for each in measured])[0] > 0.0
    highest, lowest, mean = (
        np.where(unsolved, np.nan, together([getattr(each, key)[:free] for each in measured]))
        for key in ("highest", "lowest", "mean")
    )
    injected = np.where(unsolved, np.nan, together([each.injected for each in measured]))
    asked = together([waves.delivered for _, (waves, _, _) in finished])
    transfer = together([np.stack([swings[name] for name in names]) for _, (_, _, swings) in finished])
    steady = together(
        [
            np.stack([np.broadcast_to(waves.steady.pressure[name], part.shape) for name in names])
            for part, (waves, _, _) in finished
        ]
    )
    rows = {name: row for row, name in enumerate(names)}
    rails, at = {}, 0
    for place, rail in enumerate(first.rails):
        row, injectors = rows[rail.name], slice(at, at + len(rail.injectors))
        at = injectors.stop
        rails[rail.name] = RailPulsation(
            ripple=highest[row] - lowest[row],
            ripple_by_transfer=transfer[row],
            mean_pressure=mean[row],
            highest_pressure=highest[row],
            lowest_pressure=lowest[row],
            steady_pressure=steady[row],
            injected=injected[injectors],
            asked=asked[injectors],
            cycle=together([one_cycle(own, place) for own in measured]),
        )
    also = system.plumbing.also_named
    return Pulsation(
        car=system.car.name,
        layout=system.layout,
        rpm=np.array(np.reshape(np.broadcast_to(run.conditions.rpm, run.conditions.shape), -1), dtype=float),
        rails=ByName("rail", list(rails), list(rails.values()).__getitem__, _known(also, rails)),
        ripple=ByName("station", names, list(highest - lowest).__getitem__, _known(also, names)),
        crank_angle=CRANK_ANGLE,
        vapour_volume=together([each.vapour[None] for each in measured])[0],
        boils=tuple(dict.fromkeys(name for _, (waves, _, _) in finished for name in waves.boils)),
        step=first.setup.grid.step,
        lines=lines_of(first.setup, first.network),
        mass_error=together([each.mass_error[None] for each in measured])[0],
        completion=completion,
    )


def _known(also: Mapping[str, str], names: Iterable[str]) -> dict[str, str]:
    return {other: name for other, name in also.items() if name in names}


def one_cycle(measured: Measured, rail: int) -> FloatArray:
    """Return the pressure of a rail over the last two turns of the crankshaft, (angles, points), Pa absolute.

    Parameters
    ----------
    measured : Measured
    rail : int
        Which of its rails.
    """
    time, trace = measured.time, measured.trace[:, rail]
    period = measured.measured_time / measured.cycles
    cycle = np.empty((len(CRANK_ANGLE), trace.shape[1]))
    for point in range(trace.shape[1]):
        moments = time[-1] + period[point] * (CRANK_ANGLE / CRANK_ANGLE[-1] - 1.0)
        cycle[:, point] = np.interp(moments, time, trace[:, point])
    return cycle
