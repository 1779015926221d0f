"""Waves along the way from the pump to the end of a rail: pressure against time and place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.errors import InputError, nearest
from fuelsim.ripple.car_waves import CarWaves, car_waves
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.ripple.study import run_at
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, IndexArray, PlotAxes, PointArray, UnitSystem
from fuelsim.units import shown
from fuelsim.waves.march import march

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Station", "WaveAlong", "wave_along"]

_SETTLING = 0.25
"""Time that pulsations take to become periodic, s [assumed]."""
_MOMENTS = 240


class Station(NamedTuple):
    """A station on the way.

    Attributes
    ----------
    name : str
    place : float
        Distance from the start, m.
    """

    name: str
    place: float


@dataclass(frozen=True)
class WaveAlong(Shown):
    """Pressure along the way from the pump to the end of a rail, over two turns of the crankshaft.

    Attributes
    ----------
    car, layout : str
        What was computed.
    rpm : float
        Engine speed, rpm.
    place : array (places,)
        Distance from the start along the lines, m.
    time : array (times,)
        Time within the cycle, s.
    pressure : array (times, places)
        Pa absolute.
    steady : array (places,)
        Pressure of the steady flow, Pa absolute.
    stations : tuple of Station
        What stands where.
    """

    car: str
    layout: str
    rpm: float
    place: PointArray
    time: PointArray
    pressure: FloatArray
    steady: PointArray
    stations: tuple[Station, ...]

    @property
    def headline(self) -> str:
        """Return the length of the way and where the pressure swings most."""
        swing = np.ptp(self.pressure, axis=0)
        at = int(np.argmax(swing))
        return (
            f"'{self.layout}' at {self.rpm:.0f} rpm, {self.place[-1]:.3g} m from {self.stations[0].name} to "
            f"{self.stations[-1].name}: the pressure swings most at {self.place[at]:.3g} m, "
            f"over {shown(float(swing[at]), 'pressure difference', digits=3)}"
        )

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per place: station, swing, highest, lowest and steady pressure.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.wave_along_table(self, units)

    @takes()
    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw pressure against place at some times, one line above the other.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes of your own; left out, it has a figure of its own.
        """
        return opener.wave_along_figure(self, ax)

    @takes()
    def animate(self) -> opener.Animation:
        """Return pressure against place as it moves over two turns, which plays itself in a notebook.

        Returns
        -------
        Animation
            `save` writes it as ``.gif`` or ``.html``.
        """
        return opener.wave_animation(self)


@system_or_car
@takes(
    {
        "rpm": ONE_CONDITION["rpm"],
        "load": ONE_CONDITION["load"],
        "tank_temperature": ONE_CONDITION["tank_temperature"],
    }
)
def wave_along(
    system: System,
    rpm: Given,
    *,
    rail: str | None = None,
    load: Given = 1.0,
    tank_temperature: Given | None = None,
    dynamics: Dynamics | None = None,
    firing_order: Sequence[int] | None = None,
) -> WaveAlong:
    """Return the pressure along the lines from the pump to the end of a rail over two turns of the crankshaft.

    Parameters
    ----------
    system : System, or Car and layout
    rpm : quantity
        Engine speed, rpm.
    rail : str, optional
        The rail at which the way ends; the first, if left out.
    load : quantity, optional
        Fraction of the full-load air charge.
    tank_temperature : quantity, optional
        K; the car's own, if left out.
    dynamics : Dynamics, optional
        How parts move, where you know better than the defaults.
    firing_order : list of int, optional
        As `pulsation` takes it.

    Returns
    -------
    WaveAlong

    Raises
    ------
    InputError
        For an unknown rail, values that are not accepted, or an engine that does not run.

    Examples
    --------
    >>> import fuelsim as fs
    >>> wave = wave_along(fs.Car.named("finch").system("returnless_tank"), 4000)
    >>> wave.stations[-1].name
    'rail'
    """
    moving = Dynamics() if dynamics is None else dynamics
    run, points = run_at(system, [float(np.asarray(rpm))], load, tank_temperature, 1)
    waves = car_waves(run, points, dynamics=moving, step=1e-4, firing_order=firing_order, dampers={})
    known = [each.name for each in waves.rails]
    wanted = known[0] if rail is None else system.plumbing.also_named.get(rail, rail)
    if wanted not in known:
        raise InputError("no rail of this name", given=rail, accepted=nearest(str(rail), known), key="rail")
    end = waves.rails[known.index(wanted)].nodes[-1]
    sections, place, stations, head = _way(waves, system.plumbing.main_pump.downstream, end)
    setup = waves.setup
    step, sweep = setup.grid.step, setup.sweep
    cycle = round(float(waves.injection.cycle[0]) / step)
    steps = int(_SETTLING / step) + cycle
    every = max(1, cycle // _MOMENTS)
    kept: list[FloatArray] = []
    steady = sweep.pressure[sections, 0] - head

    def observe(number: int) -> None:
        if number >= steps - cycle and (number - (steps - cycle)) % every == 0:
            kept.append(sweep.pressure[sections, 0].copy())

    march(sweep, setup.nodes, setup.boundaries, steps, steps, observe)
    return WaveAlong(
        car=system.car.name,
        layout=system.layout,
        rpm=float(np.asarray(rpm)),
        place=place,
        time=np.asarray(np.arange(len(kept)) * (every * step), dtype=float),
        pressure=np.stack(kept) - head,
        steady=steady,
        stations=stations,
    )


def _way(waves: CarWaves, start: str, end: str) -> tuple[IndexArray, PointArray, tuple[Station, ...], PointArray]:
    """Return the sections from one station to another, where they are, the stations, and rho g z of the sections."""
    net, setup = waves.network, waves.setup
    before: dict[str, tuple[str, str]] = {}
    reached, waiting = {start}, [start]
    while waiting and end not in reached:
        station = waiting.pop(0)
        for name, link in net.links.items():
            for near, far in ((link.up, link.down), (link.down, link.up)):
                if near == station and far not in reached and far in net.nodes:
                    reached.add(far)
                    before[far] = (near, name)
                    waiting.append(far)
    steps, station = [], end
    while station != start:
        near, name = before[station]
        steps.append((near, name, station))
        station = near
    node_of = net.elements.numbers()
    rows: list[IndexArray] = []
    places, heads = [], []
    stations: list[Station] = []
    distance = 0.0
    for near, name, far in reversed(steps):
        if name not in setup.waved:
            continue
        line = setup.waved.index(name)
        own = np.arange(setup.sweep.sections.first[line], setup.sweep.sections.last[line] + 1)
        rows.append(own if net.links[name].up == near else own[::-1])
        along = np.linspace(0.0, 1.0, len(own))
        length = float(np.asarray(getattr(net.links[name].part, "length", 0.0)))
        if not stations:
            stations.append(Station(near, 0.0))
        places.append(distance + along * length)
        ends = setup.node_head[[node_of[near], node_of[far]], 0]
        heads.append(ends[0] + along * (ends[1] - ends[0]))
        distance += length
        stations.append(Station(far, distance))
    return np.concatenate(rows), np.concatenate(places), tuple(stations), np.concatenate(heads)
