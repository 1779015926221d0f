"""Which of the layouts compared is preferred, and whether that stays so over the bands of what is not known.

Two figures decide, in this order: the hottest air under the floor in which it can idle without end (the engine is still
fed once the tank has settled), and the distance of the rail from boiling at idle at the car's own tank temperature. The
settled tank is warmer than that air by what comes back into it, the pump's heat and radiation over its conductance, so
that a return counts for the rail and against the tank. No layout is preferred whose rail comes too near to boiling.
Both figures are found for every layout at the same corners of heat, vapour tolerance, superheat, vapour pressure of the
fuel and conductance of the tank (`fuelsim.studies.bands`), so that what moves all layouts alike decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.car.car import Car
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.interruption import run_steps
from fuelsim.shown import Shown
from fuelsim.studies.bands import Banded, BandInput, band_inputs, over_bands
from fuelsim.studies.limits import RAIL_VAPOUR_MARGIN
from fuelsim.studies.measures import MEASURES
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import System
from fuelsim.typing import FloatArray

if TYPE_CHECKING:
    from fuelsim.system.run import Run

__all__ = ["Decision", "DecisionState", "Reversal", "Routing", "decide"]


class Figure(NamedTuple):
    """A figure that decides, by its name and the kind of its unit."""

    name: str
    kind: str


FIGURES = (
    Figure("hottest air under the floor in which it can idle without end", "temperature"),
    Figure("distance of the rail from boiling at idle", "temperature difference"),
)
"""In the order in which they decide."""
TANKS = np.arange(30.0, 66.0, 2.5) + ZERO_CELSIUS
"""Temperatures of the tank at which layouts are tried, K; a limit that lies beyond them counts as the last."""
FED = 0.9
"""Injector pressure difference over that of the coldest tank down to which the engine counts as fed [assumed]."""
MATTERS = 1.0
"""Lead from which one layout counts as better, K [assumed]."""
NOT_SOLVED = -100.0
"""Distance of the rail from boiling where it is not known, K."""
ROUNDING = 1e-3
"""Lead below which two layouts are level, K."""


class DecisionState(StrEnum):
    """What became of a decision; its value is its name for people."""

    PREFERRED = "preferred"
    EQUAL = "equal"
    UNDECIDED = "not decided by what is known"
    ALONE = "one layout only"


class Routing(NamedTuple):
    """What a layout asks for in lines.

    Attributes
    ----------
    length : dict of str to float
        Length of its lines in the air of each zone ('underfloor', 'bay', ...), m.
    line_ends : int
        Number of ends of lines, each with a joint to make tight.
    """

    length: dict[str, float]
    line_ends: int

    @classmethod
    def of(cls, system: System) -> Routing:
        """Return the routing of a car in its layout.

        Parameters
        ----------
        system : System
            The car and its layout.

        Returns
        -------
        Routing

        Examples
        --------
        >>> from fuelsim.car.car import Car
        >>> Routing.of(Car.named("finch").system("return")).line_ends
        4
        """
        length: dict[str, float] = {}
        for line in system.plumbing.lines:
            zone = line.part.zone
            length[zone] = length.get(zone, 0.0) + float(np.max(line.part.length))
        return cls(length, 2 * len(system.plumbing.lines))


class Reversal(NamedTuple):
    """The least change of one input that would reverse a decision, by a straight line through its band.

    Attributes
    ----------
    item : BandInput
    value : float
        Value at which the lead is gone, SI.
    bands : float
        Change over the distance from the middle of the band to its end.
    """

    item: BandInput
    value: float
    bands: float


@dataclass(frozen=True)
class Decision(Shown):
    """Which layout is preferred, and why.

    Attributes
    ----------
    state : DecisionState
    layouts : tuple of str
        The preferred layout, or those between which it is not decided or that are equal.
    limits : dict of str to Banded
        By layout: both figures (2,), K, over the bands.
    figure : int
        Number of the figure in `FIGURES` that decides.
    rival : str
        The layout that comes nearest to the preferred one; '' without one.
    lead : array (3,)
        Least, middle and greatest lead of the first of `layouts` over its rival in that figure, K.
    reversal : Reversal or None
        What would reverse it; None where no input does.
    measure : BandInput or None
        Input whose measurement would decide.
    parts : dict of str to tuple of str
        By layout: tables of the car file that not every layout has.
    routing : dict of str to Routing
        By layout: lengths of its lines, and joints.
    """

    state: DecisionState
    layouts: tuple[str, ...]
    limits: dict[str, Banded]
    figure: int
    rival: str
    lead: FloatArray
    reversal: Reversal | None
    measure: BandInput | None
    parts: dict[str, tuple[str, ...]]
    routing: dict[str, Routing]

    @property
    def headline(self) -> str:
        """Return what is preferred."""
        return self.sentences()[0]

    @property
    def preferred(self) -> str | None:
        """The preferred layout; None where none stays preferred over the bands."""
        return self.layouts[0] if self.state is DecisionState.PREFERRED else None

    def sentences(self) -> list[str]:
        """Return the decision in sentences: what is preferred, the figures that decide, the cost, what reverses it.

        Returns
        -------
        list of str
        """
        return opener.decision_sentences(self)

    def __str__(self) -> str:
        return " ".join(self.sentences())


def decide(systems: Mapping[str, System], idle: Mapping[str, Run], full_load: Mapping[str, Run]) -> Decision:
    """Return which of several layouts is preferred.

    Parameters
    ----------
    systems : mapping of str to System
        What is compared, by name.
    idle, full_load : mapping of str to Run
        Runs at idle and at full load, (tanks,) and (speeds, tanks), as `Comparison` has them.

    Returns
    -------
    Decision

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = fs.compare(fs.Car.named("finch"), ["return"], rpm=[6000], tank_temperature=["20 degC"])
    >>> decide(result.systems, result.idle, result.full_load).state.value
    'one layout only'
    """
    names = tuple(systems)
    tables = {name: tuple(dict.fromkeys(link.table for link in systems[name].plumbing.links)) for name in names}
    common = set.intersection(*(set(each) for each in tables.values()))
    parts = {name: tuple(table for table in tables[name] if table not in common) for name in names}
    routing = {name: Routing.of(systems[name]) for name in names}
    if len(names) == 1:
        return Decision(DecisionState.ALONE, names, {}, 0, "", np.zeros(3), None, None, parts, routing)
    banded, completion = run_steps(
        names, lambda name: _limits(systems[name], idle[name], full_load[name]), doing="deciding", of="layouts"
    )
    if completion.interrupted:
        raise KeyboardInterrupt
    limits = dict(zip(names, banded, strict=True))
    leads = {pair: _Lead.of(limits[pair[0]], limits[pair[1]]) for pair in combinations(names, 2)}
    leads |= {(second, first): lead.turned() for (first, second), lead in leads.items()}
    beaten = {name: any(leads[other, name].wins for other in names if other != name) for name in names}
    best = sorted((name for name in names if not beaten[name]), key=lambda name: -float(limits[name].middle[0]))
    # Three that beat one another in a ring leave nobody unbeaten.
    best = best or sorted(names, key=lambda name: -float(limits[name].middle[0]))
    if len(best) == 1:
        winner = best[0]
        if all(leads[winner, other].wins for other in names if other != winner):
            rival = min((name for name in names if name != winner), key=lambda other: leads[winner, other].closeness)
            lead = leads[winner, rival]
            if float(limits[winner].low[1]) >= RAIL_VAPOUR_MARGIN.value:
                return Decision(
                    DecisionState.PREFERRED,
                    (winner,),
                    limits,
                    lead.figure,
                    rival,
                    lead.spread,
                    lead.reversal(),
                    lead.mover(),
                    parts,
                    routing,
                )
            rail = _Lead(lead.inputs, lead.corners[[1, 1]])
            state = DecisionState.UNDECIDED
            return Decision(state, (winner, rival), limits, 1, rival, rail.spread, None, rail.mover(), parts, routing)
        best += [name for name in names if name != winner and not leads[winner, name].wins]
    pair = next((each for each in combinations(best, 2) if not leads[each].tied), (best[0], best[1]))
    lead = leads[pair]
    state = DecisionState.EQUAL if all(leads[each].tied for each in combinations(best, 2)) else DecisionState.UNDECIDED
    return Decision(state, tuple(best), limits, lead.figure, pair[1], lead.spread, None, lead.mover(), parts, routing)


class _Lead(NamedTuple):
    """By how much one layout is ahead of another at every corner.

    Attributes
    ----------
    inputs : tuple of BandInput
        Inputs of either.
    corners : array (2, 3 + 2 inputs)
        Lead in each figure, K: as it is, all adverse, all favourable, each input at its low end, each at its high end.
    """

    inputs: tuple[BandInput, ...]
    corners: FloatArray

    @classmethod
    def of(cls, one: Banded, other: Banded) -> _Lead:
        """Return the lead of one layout over another; an input that only one has leaves the other in the middle."""
        inputs = tuple({item.name: item for item in (*one.inputs, *other.inputs)}.values())
        return cls(inputs, _at_corners(one, inputs) - _at_corners(other, inputs))

    def turned(self) -> _Lead:
        """Return the lead of the other over the one."""
        return self._replace(corners=-self.corners)

    @property
    def figure(self) -> int:
        """Number of the first figure in which they differ anywhere; that of the last where they do not."""
        differs = np.any(np.abs(self.corners) > MATTERS, axis=1)
        return int(np.argmax(differs)) if differs.any() else len(differs) - 1

    @property
    def tied(self) -> bool:
        """Whether they are equal in both figures at every corner."""
        return bool(np.all(np.abs(self.corners) <= MATTERS))

    @property
    def wins(self) -> bool:
        """Whether the one is ahead as it is, and nowhere behind."""
        lead = self.corners[self.figure]
        return not self.tied and bool(lead[0] > MATTERS and np.all(lead > -ROUNDING))

    @property
    def spread(self) -> FloatArray:
        """Least, middle and greatest lead in the figure that decides, K."""
        lead = self.corners[self.figure]
        return np.array([lead.min(), lead[0], lead.max()])

    @property
    def closeness(self) -> tuple[int, float]:
        """Sorts leads from the closest: those of the second figure first."""
        return -self.figure, float(self.spread[1])

    def _ends(self) -> tuple[FloatArray, FloatArray]:
        """Return the lead with each input at its low and at its high end, (inputs,)."""
        lead, count = self.corners[self.figure], len(self.inputs)
        return lead[3 : 3 + count], lead[3 + count :]

    def mover(self) -> BandInput | None:
        """Return the input that moves the lead most."""
        low, high = self._ends()
        spans = np.abs(high - low)
        return self.inputs[int(np.argmax(spans))] if spans.size and spans.max() > 0.0 else None

    def reversal(self) -> Reversal | None:
        """Return the least change of one input, in parts of its band, at which a straight line has no lead left."""
        middle, found = float(self.corners[self.figure, 0]), []
        for item, *leads in zip(self.inputs, *self._ends(), strict=True):
            for end, lead in zip((item.band.low, item.band.high), leads, strict=True):
                if middle - lead > ROUNDING:
                    bands = middle / (middle - lead)
                    found.append(Reversal(item, item.band.middle + bands * (end - item.band.middle), bands))
        return min(found, key=lambda each: each.bands, default=None)


def _at_corners(result: Banded, inputs: Sequence[BandInput]) -> FloatArray:
    """Return both figures at the corners of `_Lead`."""
    row = {item.name: number for number, item in enumerate(result.inputs)}
    low, high = (
        [ends[row[item.name]] if item.name in row else result.middle for item in inputs]
        for ends in (result.at_low, result.at_high)
    )
    return np.stack([result.middle, result.adverse, result.favourable, *low, *high], axis=-1)


def _limits(system: System, idle: Run, full_load: Run) -> Banded:
    """Return both figures of one layout over the bands of its own car."""
    quiet, hard = idle.conditions, full_load.conditions

    def over_tanks(name: str) -> FloatArray:
        at_idle = np.broadcast_to(getattr(quiet, name), quiet.shape).reshape(-1)[0]
        at_red_line = np.broadcast_to(getattr(hard, name), hard.shape)[-1, 0]
        # At idle over the tanks, at the red line over the tanks, and at idle with the car's own tank.
        values = np.array([*[at_idle] * len(TANKS), *[at_red_line] * len(TANKS), at_idle])
        return np.asarray(values, dtype=float).reshape(-1, 1)

    own = float(system.car.surroundings.fuel_temperature)
    conditions = Conditions(
        tank_temperature=np.array([*TANKS, *TANKS, own]).reshape(-1, 1),
        rpm=over_tanks("rpm"),
        load=over_tanks("load"),
        air_temperature=over_tanks("air_temperature"),
        altitude=over_tanks("altitude"),
        supply_voltage=over_tanks("supply_voltage"),
    )

    def figures(car: Car) -> FloatArray:
        changed = System(car, system.layout)
        run = changed.solve(conditions)
        # Where the engine stops it is the pressure that it stopped at which goes on along the curve.
        pressure = np.asarray(run.before_stop.injector_pressure_difference)[:-1].reshape(2, len(TANKS), -1)
        fed = np.min(np.nan_to_num(pressure / pressure[:, :1]) - FED, axis=0)
        rise = (np.asarray(run.tank_heat_flow)[-1] + car.tank.radiated_heat) / car.tank.heat_conductance
        margin = MEASURES["rail_vapour_margin"].at_points(changed, run)[-1]
        air = _first_crossing(fed) - np.nan_to_num(rise, nan=-NOT_SOLVED)
        return np.stack([air, np.nan_to_num(margin, nan=NOT_SOLVED)])

    return over_bands(system.car, band_inputs(system.car, warming=True), figures, kind="temperature", batched=True)


def _first_crossing(margin: FloatArray) -> FloatArray:
    """Return the tank temperature at which each margin, (tanks, corners), first falls below zero, (corners,), K."""
    negative = margin < 0.0
    after = np.where(negative.any(axis=0), negative.argmax(axis=0), len(TANKS))
    columns = np.arange(margin.shape[1])
    inner = np.clip(after, 1, len(TANKS) - 1)
    above, below = margin[inner - 1, columns], margin[inner, columns]
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = TANKS[inner - 1] + above / (above - below) * (TANKS[inner] - TANKS[inner - 1])
    crossing = np.where(after == 0, TANKS[0], crossing)
    return np.asarray(np.where(after == len(TANKS), TANKS[-1], crossing))
