"""What calms the rails: a damper at each place, wider rails, hose in place of tube, a crossover; or makes it worse."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.tables import PlumbedLine
from fuelsim.car.walls import SOFT_WALLS
from fuelsim.interruption import WHOLE, Completion, Interruptible, run_steps
from fuelsim.parts.damper import Damper
from fuelsim.parts.line import Line
from fuelsim.ripple.car_waves import car_waves
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.ripple.study import run_at
from fuelsim.ripple.transfer import swings_by_transfer
from fuelsim.shown import Shown
from fuelsim.system.conditions import CONDITIONS, ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.run import Run, System
from fuelsim.typing import Given, IndexArray, PlotAxes, PointArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["RippleRemedies", "RippleRemedy", "ripple_remedies"]

_WIDER = 1.5
"""Bore of a wider rail over its own."""
_SPEEDS = 40
_STEP = 1e-4


class RippleRemedy(NamedTuple):
    """One change.

    Attributes
    ----------
    change : str
        What is changed, in words; the first of a list is "as it is".
    ripple : array (points,)
        Swing of the rail that ripples most from peak to peak, at each engine speed, Pa.
    """

    change: str
    ripple: PointArray


@dataclass(frozen=True)
class RippleRemedies(Interruptible, Shown):
    """What calms the rails of a fuel system.

    Attributes
    ----------
    car, layout : str
        What ripples.
    rpm : array (points,)
        Engine speed, rpm.
    remedies : tuple of RippleRemedy
        The fuel system as it is, then each change to it alone.
    completion : Completion
        How many changes were computed before the end or before Ctrl-C.
    """

    car: str
    layout: str
    rpm: PointArray
    remedies: tuple[RippleRemedy, ...]
    completion: Completion = WHOLE

    @property
    def ranked(self) -> tuple[RippleRemedy, ...]:
        """The changes, the one with the least greatest ripple first."""
        return tuple(sorted(self.remedies[1:], key=lambda each: float(np.nanmax(each.ripple))))

    @property
    def headline(self) -> str:
        """Return the greatest ripple as it is and with the best change, and what makes it worse somewhere."""
        before = float(np.nanmax(self.remedies[0].ripple))
        text = f"'{self.layout}': ripple of up to {shown(before, 'pressure difference', digits=3)} as it is"
        if not self.ranked:
            return text
        best = self.ranked[0]
        text += f"; {shown(float(np.nanmax(best.ripple)), 'pressure difference', digits=3)} with {best.change}"
        worse = [each.change for each in self.remedies[1:] if float(np.nanmax(each.ripple)) > 1.05 * before]
        return f"{text}; worse with {' or '.join(worse)}" if worse else text

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per change, the best first, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        DataFrame
            Greatest ripple over the engine speeds and where, the mean over the speeds, each over that as it is in
            percent, and by how much it is worse at the speed at which it helps least.
        """
        return opener.ripple_remedies_table(self, units)

    @takes()
    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the ripple over engine speed as it is, with the best changes and with the worst.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes of your own; left out, it has a figure of its own.
        """
        return opener.ripple_remedies_figure(self, ax)


class _Change(NamedTuple):
    words: str
    car: Car
    dampers: dict[str, Damper]
    joins: dict[str, tuple[str, str, Line]]


@system_or_car
@takes(
    {
        "rpm": CONDITIONS["rpm"],
        "load": ONE_CONDITION["load"],
        "tank_temperature": ONE_CONDITION["tank_temperature"],
    }
)
def ripple_remedies(
    system: System,
    rpm: Given | None = None,
    *,
    damper: Damper | None = None,
    load: Given = 1.0,
    tank_temperature: Given | None = None,
    dynamics: Dynamics | None = None,
    firing_order: Sequence[int] | None = None,
    progress: bool | None = None,
) -> RippleRemedies:
    """Return what each of some changes to a fuel system does to the ripple of its rails.

    A damper at each station under the rails' pressure, rails half as wide again, hose in place of each tube, and for
    dead-ended rails a crossover: each alone, over engine speeds, by exact lines in the domain of frequencies. One place
    of a damper helps, another shifts a resonance to a speed at which the engine runs. A hose must be rated for the
    pressure of its place, and a joint more is one more that can leak.

    Parameters
    ----------
    system : System, or Car and layout
    rpm : list of quantity, optional
        Engine speeds, rpm; 40 from idle to the red line, if left out.
    damper : Damper, optional
        The damper that is tried; a usual one, if left out.
    load : quantity, optional
        Fraction of the full-load air charge.
    tank_temperature : quantity, optional
        K; the car's own, if left out.
    dynamics : Dynamics, optional
        How parts move, where you know better than the defaults.
    firing_order : list of int, optional
        As `pulsation` takes it.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.

    Returns
    -------
    RippleRemedies
        After Ctrl-C with the changes that are finished.

    Raises
    ------
    InputError
        For values that are not accepted, or an engine that runs at no speed.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = ripple_remedies(fs.Car.named("finch").system("returnless_tank"), rpm=[2000, 4000])
    >>> result.remedies[0].change
    'as it is'
    """
    moving = (Dynamics() if dynamics is None else dynamics).with_values({"pump_ripple": 0.0})
    tried = Damper() if damper is None else damper
    changes = _changes(system, tried)

    def run_of(changed: System) -> tuple[Run, IndexArray]:
        return run_at(changed, rpm, load, tank_temperature, _SPEEDS)

    # Dampers and joins change nothing of the steady run.
    as_it_is = run_of(system)

    def work(change: _Change) -> RippleRemedy:
        run, points = as_it_is if change.car is system.car else run_of(System(change.car, system.layout))
        waves = car_waves(
            run,
            points,
            dynamics=moving,
            step=_STEP,
            firing_order=firing_order,
            dampers=change.dampers,
            joins=change.joins,
        )
        swings = swings_by_transfer(waves, moving)
        ripple = np.full(np.size(run.conditions.rpm), np.nan)
        ripple[points] = np.max([swings[rail.name] for rail in waves.rails], axis=0)
        return RippleRemedy(change.words, ripple)

    remedies, completion = run_steps(changes, work, doing="ripple", of="changes", progress=progress)
    if not remedies:
        raise KeyboardInterrupt
    speeds = np.atleast_1d(np.asarray(as_it_is[0].conditions.rpm, dtype=float))
    return RippleRemedies(system.car.name, system.layout, speeds, tuple(remedies), completion)


def _changes(system: System, damper: Damper) -> list[_Change]:
    """Return the fuel system as it is and each change to it."""
    car, plumbing = system.car, system.plumbing
    zones = {plumbing.zone(rail) for rail in plumbing.rails}
    pumped = {link.downstream for link in plumbing.pumps}
    places = [
        name
        for name in plumbing.fuel_stations
        if plumbing.zone(name) in zones and name not in (*plumbing.vessels, *pumped)
    ]
    changes = [_Change("as it is", car, {}, {})]
    changes += [_Change(f"a damper at {name}", car, {name: damper}, {}) for name in places]
    wider = {f"{rail.table}.bore": _WIDER * _rail_bore(car, rail.table) for rail in plumbing.planned_rails}
    changes.append(_Change("rails half as wide again", car.with_values(wider), {}, {}))
    for link in plumbing.feed_lines:
        part = link.part
        if (
            isinstance(part, PlumbedLine)
            and part.material not in SOFT_WALLS
            and plumbing.zone(link.downstream) in zones
        ):
            hose = car.with_values({f"{link.table}.material": "rubber"})
            changes.append(_Change(f"rubber hose for {link.name}", hose, {}, {}))
    return changes + _crossover(car, plumbing)


def _rail_bore(car: Car, table: str) -> float:
    return float(getattr(car.part(table.rpartition(".")[2]), "bore", 0.0))


def _crossover(car: Car, plumbing: Plumbing) -> list[_Change]:
    """Return a crossover between the far ends of two dead-ended rails."""
    ended = [rail for rail in plumbing.planned_rails if rail.outlet is None]
    if len(plumbing.planned_rails) != 2 or len(ended) != 2:
        return []
    feed = plumbing.feed_lines[-1].part
    line = Line(length=0.5, bore=feed.bore, roughness=feed.roughness)
    join = (ended[0].name, ended[1].name, line)
    return [_Change("a crossover of 0.5 m between the rails", car, {}, {"added_crossover": join})]
