"""Which part costs the pressure: the drop from the pump's outlet to the rail, split by part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.constants import GRAVITY
from fuelsim.errors import InputError, nearest
from fuelsim.shown import Shown
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.plumbing_paths import way_to_rail
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray, PlotAxes, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["DropSplit", "split_drop"]


@dataclass(frozen=True)
class DropSplit(Shown):
    """Where pressure is lost between two stations, at every operating point of a run.

    Attributes
    ----------
    run : Run
        The run whose drop is split.
    start, end : str
        Stations, in the direction of the flow.
    parts : tuple of str
        Links between them, in order.
    friction : dict of str to array
        Pressure lost in each part without what height costs, Pa; shape of the run's conditions.
    height : dict of str to array
        Pressure that lifting the fuel costs in each part, Pa; negative where it falls.

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").system("return")
    >>> split = split_drop(system, system.solve(rpm=6000))
    >>> round(float(sum(split.friction_fraction.values())), 9)
    1.0
    """

    run: Run
    start: str
    end: str
    parts: tuple[str, ...]
    friction: dict[str, FloatArray]
    height: dict[str, FloatArray]

    @property
    def headline(self) -> str:
        """Return between which stations, and in which parts."""
        return f"{self.start} to {self.end}, {np.size(self.total)} operating points: {', '.join(self.parts)}"

    @property
    def total(self) -> FloatArray:
        """Pressure at the start less that at the end, Pa: the sum of all parts and heights."""
        drop: FloatArray = self.run.pressure[self.start] - self.run.pressure[self.end]
        return drop

    @property
    def friction_fraction(self) -> dict[str, FloatArray]:
        """Friction of each part as a fraction of the friction of all parts."""
        whole = sum(self.friction.values())
        with np.errstate(divide="ignore", invalid="ignore"):
            return {part: drop / whole for part, drop in self.friction.items()}

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per operating point: speed, load, the drop of each part, height and total.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> len(split_drop(system, system.solve(rpm=[1000, 6000])).table())
        2
        """
        return opener.drop_table(self, units)

    @takes()
    def plot(self, *, ax: PlotAxes | None = None) -> Figure:
        """Draw what each part loses: bars at one operating point, else areas on one another over the points.

        Parameters
        ----------
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> split_drop(system, system.solve(rpm=[1000, 3000, 6000])).plot().axes[0].get_xlabel()
        'engine speed, rpm'
        """
        return opener.drop_figure(self, ax)


def _weakest_rail(run: Run) -> str:
    """Return the rail with the least pressure over the manifold; the first where no point solved."""
    least = {name: np.nan_to_num(np.ravel(rail.pressure_difference), nan=np.inf) for name, rail in run.by_rail.items()}
    return min(least, key=lambda name: float(np.min(least[name])))


@system_or_car
@takes()
def split_drop(system: System, run: Run, start: str | None = None, end: str | None = None) -> DropSplit:
    """Split the drop between two stations by part.

    Parameters
    ----------
    system : System
        The system that made the run.
    run : Run
        The operating points.
    start, end : str, optional
        Stations, the second downstream of the first; left out, the rail of least pressure and the outlet of the last
        pump before it.

    Returns
    -------
    DropSplit

    Raises
    ------
    InputError
        For a run of another layout, or stations of which the second is not downstream of the first.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> system = Car.named("finch").system("return")
    >>> split = split_drop(system, system.solve(rpm=6000))
    >>> split.parts
    ('filter', 'feed', 'rail_bore')
    """
    if run.layout != system.layout:
        raise InputError("a run of another layout", given=run.layout, accepted=system.layout, part="split_drop")
    plumbing = system.plumbing
    end = _weakest_rail(run) if end is None else end
    if start is None:
        way = way_to_rail(plumbing, end) if end in plumbing.rails else ()
        start = way[0].upstream if way else plumbing.main_pump.downstream
    for key, station in (("start", start), ("end", end)):
        if station not in plumbing.fuel_stations:
            raise InputError(
                "no such station", given=station, accepted=nearest(station, plumbing.fuel_stations), key=key
            )
    friction: dict[str, FloatArray] = {}
    height: dict[str, FloatArray] = {}
    for link in plumbing.between(start, end):
        rise = plumbing.heights[link.downstream] - plumbing.heights[link.upstream]
        with np.errstate(divide="ignore", invalid="ignore"):  # Where nothing flows the column's density is not known.
            density = run.mass_flow[link.name] / run.flow[link.name]
        height[link.name] = np.where(np.isfinite(density), density, np.nan) * GRAVITY * rise
        drop = run.pressure[link.upstream] - run.pressure[link.downstream]
        friction[link.name] = drop - height[link.name]
    return DropSplit(run, start, end, tuple(friction), friction, height)
