"""Something happens: a pump steps, a second one joins, the throttle opens, full load comes at once, the pedal blips.

All of these are a change from one operating point to another: the manifold's pressure, what the injectors ask and what
drives the pumps go over from those of the first run to those of the second, and the waves with the inertia of
regulators and rotors make the rest. Both directions are computed side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes, whole
from fuelsim.errors import InputError
from fuelsim.network.state import ByName
from fuelsim.ripple.car_waves import CarWaves, car_waves, points_of
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.shown import Shown
from fuelsim.system.conditions import Conditions
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing import MANIFOLD
from fuelsim.system.run import System
from fuelsim.typing import BoolArray, FloatArray, Given, PlotAxes, PointArray, UnitSystem
from fuelsim.units import shown
from fuelsim.waves.junctions import Junctions, LinearGroup, LinkGroup
from fuelsim.waves.march import march
from fuelsim.waves.moving_parts import RegulatorMotion, RotorMotion

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["PressureEvent", "Reaction", "pressure_event"]

_START = 0.02
"""Time before the change, s."""
_SETTLED = 0.02
"""Share of the pressure difference at the injectors within which it counts as settled."""
_LEAST_SWING = 2000.0
"""Swing below which no oscillation is told, Pa."""
_MOST_MOMENTS = 5_000


class Reaction(NamedTuple):
    """What the pressure difference over the injectors of the first rail does.

    Attributes
    ----------
    before, after : float
        In the steady flow before and after the change, Pa; blips end where they began.
    dip : float
        How far it falls below both, Pa; 0 where it does not.
    overshoot : float
        How far it rises above both, Pa; 0 where it does not.
    settling_time : float
        Time from the start of the change until it stays within 2 % of that after, s; NaN where it does not.
    frequency : float
        Frequency of its oscillation afterwards, Hz; NaN without one.
    damping_ratio : float
        Damping of that over the critical one, by the logarithmic decrement; NaN without one.
    """

    before: float
    after: float
    dip: float
    overshoot: float
    settling_time: float
    frequency: float
    damping_ratio: float


@dataclass(frozen=True)
class PressureEvent(Shown):
    """A change from one operating point to another over time.

    Attributes
    ----------
    layout : str
        Name of the layout.
    time : array (times,)
        s; the change begins at 20 ms.
    pressure : mapping of str to array (times,)
        Pressure of each station, Pa absolute.
    back : mapping of str to array (times,)
        The same for the change the other way.
    manifold_pressure : array (times,)
        Pa absolute, of the change there.
    there, reverse : Reaction
        What the pressure over the injectors does, there and the other way.
    vapour_volume : float
        Largest volume of vapour in all lines and stations, m3.
    mass_error : float
        What came in less what went out less what is held more, over the volume that passed.
    """

    layout: str
    time: PointArray
    pressure: Mapping[str, PointArray]
    back: Mapping[str, PointArray]
    manifold_pressure: PointArray
    there: Reaction
    reverse: Reaction
    vapour_volume: float
    mass_error: float

    @property
    def headline(self) -> str:
        """Return how far the pressure over the injectors dips and rises, and how it settles."""
        own = self.there

        def text(value: float) -> str:
            return shown(value, "pressure difference", digits=3)

        parts = [
            f"'{self.layout}': {text(own.before)} over the injectors goes to {text(own.after)}, "
            f"{text(own.dip)} below and {text(own.overshoot)} above both on the way"
        ]
        if np.isfinite(own.settling_time):
            parts.append(f"settles in {1e3 * own.settling_time:.3g} ms")
        if np.isfinite(own.frequency):
            dies = f"with a damping ratio of {own.damping_ratio:.2g}" if np.isfinite(own.damping_ratio) else "undamped"
            parts.append(f"swings at {own.frequency:.3g} Hz {dies}")
        if self.vapour_volume > 1e-12:
            parts.append(f"up to {1e9 * self.vapour_volume:.2g} mm3 of vapour")
        return "; ".join(parts)

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.event_table(self, units)

    @takes()
    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the pressures of rails and pump inlets over time, there and the other way.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes of your own; left out, it has a figure of its own.
        """
        return opener.event_figure(self, ax)


@system_or_car
@takes(
    {
        "duration": number("time", 0.01, 20.0, example="0.5 s", single=True),
        "over": number("time", 0.0, 5.0, example="30 ms", single=True),
        "hold": number("time", 1e-3, 5.0, example="0.3 s", single=True, optional=True),
        "blips": whole(1, 50),
    }
)
def pressure_event(
    system: System,
    before: Conditions,
    after: Conditions,
    *,
    duration: Given = "0.5 s",
    over: Given = "30 ms",
    hold: Given | None = None,
    blips: int = 1,
    dynamics: Dynamics | None = None,
    pulsing: bool = False,
) -> PressureEvent:
    """Let a running car go over from one operating point to another and follow the pressures.

    A throttle that opens, full load at once, a pump that gets other volts or another duty, a second pump that is staged
    on: whatever differs between the two conditions. With `hold` it goes back after that time, as often as `blips` says.

    Parameters
    ----------
    system : System, or Car and layout
    before, after : Conditions
        One operating point each.
    duration : quantity, optional
        Time to compute, s.
    over : quantity, optional
        Time in which the change is made, s.
    hold : quantity, optional
        Time for which the second point is held before it goes back, s; left out, it stays.
    blips : int, optional
        How often it goes there and back.
    dynamics : Dynamics, optional
        How parts move, where you know better than the defaults.
    pulsing : bool, optional
        Whether injectors pulse and pumps ripple; left out, they flow evenly, so that the change alone is seen.

    Returns
    -------
    PressureEvent

    Raises
    ------
    InputError
        For more than one operating point, or an engine that does not run at one of them.

    Examples
    --------
    >>> import fuelsim as fs
    >>> idle, full = fs.Conditions(rpm=3000, load=0.2), fs.Conditions(rpm=3000, load=1.0)
    >>> event = pressure_event(fs.Car.named("finch").system("return"), idle, full, duration="0.1 s")
    >>> bool(abs(event.there.after - 300e3) < 20e3)
    True
    """
    if before.shape not in ((), (1,)) or after.shape not in ((), (1,)):
        raise InputError("more than one operating point", accepted="one in 'before' and one in 'after'", key="before")
    filled = [system.filled(each) for each in (before, after)]
    run = system.solve(_both(*filled))
    if len(points_of(run)) < len(filled):
        raise InputError("the engine does not run before and after", given=run.outcome.summary())
    moving = Dynamics() if dynamics is None else dynamics
    waves = car_waves(
        run,
        np.arange(2),
        dynamics=moving,
        step=1e-4,
        firing_order=None,
        dampers={},
        steady_injectors=not pulsing,
        ripple=pulsing,
    )
    seconds, ramp, held = (np.nan if given is None else float(np.asarray(given)) for given in (duration, over, hold))
    share = _profile(max(ramp, waves.setup.grid.step), held, blips)
    return _result(system, waves, seconds, share)


def _both(before: Conditions, after: Conditions) -> Conditions:
    """Return two operating points as one batch."""
    values: dict[str, Given] = {}
    for item in fields(Conditions):
        first, second = (getattr(each, item.name) for each in (before, after))
        if first is not None and second is not None and not isinstance(first, str | tuple):
            values[item.name] = [float(np.reshape(first, -1)[0]), float(np.reshape(second, -1)[0])]
    return before.with_values(values)


def _profile(ramp: float, hold: float, blips: int) -> Callable[[FloatArray], FloatArray]:
    """Return how far the second point is reached over time, 0 to 1."""
    if np.isnan(hold):
        return lambda time: np.clip((time - _START) / ramp, 0.0, 1.0)
    period = 2.0 * (ramp + hold)

    def at(time: FloatArray) -> FloatArray:
        since = time - _START
        number = np.floor(since / period)
        within = since - number * period
        up = np.clip(within / ramp, 0.0, 1.0) - np.clip((within - ramp - hold) / ramp, 0.0, 1.0)
        return np.where((since < 0.0) | (number >= blips), 0.0, up)

    return at


def _swapped(values: FloatArray) -> FloatArray:
    return values[..., ::-1] if np.ndim(values) and np.shape(values)[-1] > 1 else values


class _Change:
    """The change of what stands in the nodes' equations, step by step."""

    def __init__(self, nodes: Junctions, share: Callable[[FloatArray], FloatArray], step: float) -> None:
        self.nodes, self.share, self.step = nodes, share, step
        self.groups = list(nodes.links.groups)
        self.rotors = [(rotor, rotor.group) for rotor in nodes.rotors if isinstance(rotor, RotorMotion)]
        self.resistances = [rotor.linear.resistance.copy() for rotor, _ in self.rotors]
        self.regulators = nodes.regulators if isinstance(nodes.regulators, RegulatorMotion) else None
        self.differences = None if self.regulators is None else self.regulators.ratings.difference
        self.last = 0.0

    def __call__(self, step_number: int) -> None:
        """Put in what holds at the next step."""
        share = float(self.share(np.array([(step_number + 1) * self.step]))[0])
        if share == self.last:
            return
        self.last = share
        if self.regulators is not None and self.differences is not None:
            mixed = (1.0 - share) * self.differences + share * _swapped(self.differences)
            self.regulators.rate_at(mixed)
        groups: list[LinkGroup | LinearGroup] = [
            _blended(each, share) if isinstance(each, LinkGroup) else each for each in self.groups
        ]
        for (rotor, group), resistance in zip(self.rotors, self.resistances, strict=True):
            rotor.group = _blended(group, share)
            mixed = np.broadcast_to(resistance, rotor.linear.source.shape)
            rotor.linear = rotor.linear._replace(resistance=(1.0 - share) * mixed + share * _swapped(mixed))
            rotor.renew()
            groups = [rotor.linear if getattr(each, "rows", None) == rotor.linear.rows else each for each in groups]
        self.nodes.links = replace(self.nodes.links, groups=groups)


def _blended(group: LinkGroup, share: float) -> LinkGroup:
    """Return links part of the way to what they are at the other operating point."""
    own = group.coefficients
    mixed = [
        (1.0 - share) * np.asarray(value) + share * _swapped(np.asarray(value)) if share else value for value in own
    ]
    return group._replace(coefficients=own._make(mixed))


def _result(
    system: System, waves: CarWaves, seconds: float, share: Callable[[FloatArray], FloatArray]
) -> PressureEvent:
    setup = waves.setup
    nodes, sweep, step = setup.nodes, setup.sweep, setup.grid.step
    plain, injection = setup.boundaries.pressure, waves.injection

    def mixed(values: FloatArray, time: FloatArray) -> FloatArray:
        part = share(time)[:, None, None]
        wide = np.broadcast_to(values, (*values.shape[:2], 2))
        return (1.0 - part) * wide + part * _swapped(wide)

    boundaries = replace(
        setup.boundaries,
        pressure=lambda time: mixed(plain(time), time),
        conductance=lambda time: mixed(injection(time), time),
    )
    steps = int(np.ceil(seconds / step))
    keep = max(1, steps // _MOST_MOMENTS)
    held = sweep.volume() + nodes.volume()
    record = march(sweep, nodes, boundaries, steps, keep, _Change(nodes, share, step))
    gained = sweep.volume() + nodes.volume() - held
    names = list(waves.network.elements.numbers())
    free = list(waves.network.nodes)
    pressure = record.pressure - setup.node_head
    rows = {name: row for row, name in enumerate(names)}
    also = {other: name for other, name in system.plumbing.also_named.items() if name in free}
    over = pressure[:, rows[waves.rails[0].name]] - pressure[:, rows[MANIFOLD]]
    # Blips end where they began.
    after = over[0] if share(np.array([1e6]))[0] == 0.0 else over[0, ::-1]
    there, reverse = (
        _reaction(record.time, over[:, point], float(over[0, point]), float(after[point])) for point in (0, 1)
    )
    return PressureEvent(
        layout=system.layout,
        time=record.time,
        pressure=ByName("station", free, [pressure[:, rows[name], 0] for name in free].__getitem__, also),
        back=ByName("station", free, [pressure[:, rows[name], 1] for name in free].__getitem__, also),
        manifold_pressure=pressure[:, rows[MANIFOLD], 0],
        there=there,
        reverse=reverse,
        vapour_volume=float((record.largest_cavity.sum(axis=0) + record.largest_node_cavity.sum(axis=0)).max()),
        mass_error=float(np.abs((record.inflow - gained) / record.passed).max()),
    )


def _reaction(time: PointArray, over: PointArray, before: float, after: float) -> Reaction:
    """Return the figures of a pressure difference over time."""
    low, high = min(before, after), max(before, after)
    outside: BoolArray = np.abs(over - after) > _SETTLED * abs(after)
    settled = not outside[-1]
    last = int(np.flatnonzero(outside)[-1]) + 1 if outside.any() else 0
    settling = max(float(time[min(last, len(time) - 1)]) - _START, 0.0) if settled else float("nan")
    frequency, ratio = _oscillation(time, over)
    return Reaction(
        before,
        after,
        max(low - float(over.min()), 0.0),
        max(float(over.max()) - high, 0.0),
        settling,
        frequency,
        ratio,
    )


def _oscillation(time: PointArray, over: PointArray) -> tuple[float, float]:
    """Return frequency and damping ratio of the strongest swings, by their peaks and the logarithmic decrement."""
    inner = over[1:-1]
    turns = (
        np.flatnonzero(((inner > over[:-2]) & (inner >= over[2:])) | ((inner < over[:-2]) & (inner <= over[2:]))) + 1
    )
    turns = turns[time[turns] > _START]
    swings = np.abs(np.diff(over[turns]))
    large = np.flatnonzero(swings > max(_LEAST_SWING, 0.1 * float(swings.max(initial=0.0))))
    if len(large) < 3:
        return float("nan"), float("nan")
    first, last = large[0], large[-1]
    half_periods = (time[turns[last + 1]] - time[turns[first]]) / (last + 1 - first)
    decrement = np.log(swings[first] / swings[last]) / max(last - first, 1)
    ratio = decrement / np.hypot(np.pi, decrement)
    return float(0.5 / half_periods), float(ratio) if ratio > 0.0 else float("nan")
