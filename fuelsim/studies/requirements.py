"""Requirements as data: what a fuel delivery must hold, on which operating points, and whether it does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from fuelsim import opener, units
from fuelsim.car.car import Car
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.measures import MEASURES, Measure
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RULES", "Assessed", "Assessment", "Requirements", "Rule", "assess", "proving_conditions", "signed_margin"]


class Rule(NamedTuple):
    """How a requirement is judged.

    Attributes
    ----------
    name : str
        Field of `Requirements` and name of the measure.
    sense : int
        +1 where the measure must be at least the limit, -1 where at most.
    severity : Severity
        Failure for what must hold, warning for what should.
    scale : float
        Margin that counts as one, for limits that are zero.
    source : str
        Of the default limit.
    advice : str
        What to do where it is not met.
    """

    name: str
    sense: int
    severity: Severity
    scale: float
    source: str
    advice: str

    @property
    def measure(self) -> Measure:
        """What is measured."""
        return MEASURES[self.name]


_MUST, _SHOULD = Severity.FAILURE, Severity.WARNING
RULES = (
    Rule(
        "rail_shortfall",
        -1,
        _MUST,
        0.1,
        cite("common_practice", "10 % of pressure is 5 % of injector flow"),
        "find the part that costs the pressure; a larger pump, better wire, larger feed or new filter",
    ),
    Rule(
        "rail_excess",
        -1,
        _MUST,
        0.1,
        cite("common_practice", "10 % of pressure is 5 % of injector flow"),
        "a larger return line, a larger regulator, or less pump at idle",
    ),
    Rule(
        "bypass",
        +1,
        _MUST,
        limits.BYPASS.value,
        limits.BYPASS.citation,
        "a larger pump, better wire or less loss before the regulator",
    ),
    Rule("pump_margin", +1, _SHOULD, 0.2, cite("common_practice", "20-30 %"), "a larger pump"),
    Rule(
        "injector_duty",
        -1,
        _MUST,
        limits.INJECTOR_DUTY.value,
        limits.INJECTOR_DUTY.citation,
        "larger injectors, or a higher set pressure if pump and ratings allow it",
    ),
    Rule(
        "pulse_margin",
        +1,
        _SHOULD,
        0.5e-3,
        cite("memory", "shortest linear pulse 1.2-2.0 ms"),
        "smaller injectors: they do not follow so short a pulse",
    ),
    Rule(
        "pump_voltage",
        +1,
        _MUST,
        1.0,
        limits.PUMP_VOLTAGE.citation,
        "thicker wire, fresh relay and ground",
    ),
    Rule("supply_drop", -1, _SHOULD, 0.5, limits.SUPPLY_DROP.citation, "thicker or shorter wire, fresh relay"),
    Rule(
        "fuse_loading",
        -1,
        _MUST,
        limits.FUSE_LOADING.value,
        limits.FUSE_LOADING.citation,
        "a larger fuse, and wire that carries it",
    ),
    Rule(
        "inlet_vapour_margin",
        +1,
        _MUST,
        2.0,
        cite("assumed", "2 K; below 0 K vapour takes flow from the pump"),
        "pump into the tank, larger suction, fuel of lower vapour pressure, or less heat",
    ),
    Rule(
        "suction_margin",
        +1,
        _SHOULD,
        10e3,
        limits.NPSH_REQUIRED_SOURCE,
        "the pump is noisy and wears, though it still pumps: a larger suction line, or the pump into the tank",
    ),
    Rule(
        "rail_vapour_margin",
        +1,
        _MUST,
        limits.RAIL_VAPOUR_MARGIN.value,
        limits.RAIL_VAPOUR_MARGIN.citation,
        "a return through the rail, a heat shield, a higher set pressure or fuel of lower vapour pressure",
    ),
    Rule(
        "suction_depression",
        -1,
        _SHOULD,
        limits.SUCTION_DEPRESSION.value,
        limits.SUCTION_DEPRESSION.citation,
        "a larger or shorter suction line, a clean strainer, a lower pump",
    ),
    Rule("suction_velocity", -1, _SHOULD, 1.0, limits.SUCTION_VELOCITY.citation, "a larger suction line"),
    Rule("feed_velocity", -1, _SHOULD, 3.0, limits.FEED_VELOCITY.citation, "a larger feed"),
    Rule("return_velocity", -1, _SHOULD, 2.0, limits.RETURN_VELOCITY.citation, "a larger return line"),
    Rule(
        "filter_drop",
        -1,
        _SHOULD,
        50e3,
        cite(["common_practice", "iso_4020"], "35-70 kPa; ISO 4020 ends a filter's life at 70 kPa"),
        "a larger filter, changed sooner",
    ),
    Rule(
        "rating_over_set",
        +1,
        _MUST,
        50e3,
        cite("common_practice"),
        "hose, filter and connectors of a higher rating: these are below the working pressure",
    ),
    Rule(
        "rating_over_dead_head",
        +1,
        _SHOULD,
        100e3,
        cite("common_practice"),
        "parts rated for the pump's dead-head pressure, which they see when a return is pinched",
    ),
)
"""Every requirement, with its sense, severity, source and advice."""


def _limit(kind: str, doc: str, *, least: float, most: float, default: float, example: str = "") -> Any:
    """Declare a limit that may be left out."""
    return quantity(kind, doc, least=least, most=most, default=default, optional=True, example=example)


@dataclass(frozen=True)
class Requirements(Ratings):
    """Limits that a fuel delivery is held to; None leaves one out.

    Each field limits the measure of the same name, see `RULES` for the source of its default.

    Examples
    --------
    >>> round(Requirements(bypass="20 L/h", supply_drop=None).bypass * 3.6e6, 6)
    20.0
    """

    rail_shortfall: Quantity = _limit(
        "fraction", "Rail pressure below set, at most this share of set.", least=0.0, most=1.0, default=0.10
    )
    rail_excess: Quantity = _limit(
        "fraction", "Rail pressure above set, at most this share of set.", least=0.0, most=5.0, default=0.10
    )
    bypass: Quantity = _limit(
        "volume flow", "Least bypass.", least=0.0, most=1e-3, default=limits.BYPASS.value, example="15 L/h"
    )
    pump_margin: Quantity = _limit(
        "fraction", "Least bypass over what the engine burns.", least=0.0, most=10.0, default=0.2, example="20 %"
    )
    injector_duty: Quantity = _limit(
        "fraction", "Greatest duty.", least=0.05, most=1.0, default=limits.INJECTOR_DUTY.value, example="85 %"
    )
    pulse_margin: Quantity = _limit(
        "pulse time", "Pulse at least this much above the injectors' shortest.", least=-1e-2, most=1e-2, default=0.0
    )
    pump_voltage: Quantity = _limit(
        "voltage", "Least at the pump.", least=0.0, most=60.0, default=limits.PUMP_VOLTAGE.value
    )
    supply_drop: Quantity = _limit(
        "voltage", "Greatest loss before the pump.", least=0.0, most=12.0, default=limits.SUPPLY_DROP.value
    )
    fuse_loading: Quantity = _limit(
        "fraction",
        "Greatest current over fuse rating.",
        least=0.1,
        most=1.0,
        default=limits.FUSE_LOADING.value,
        example="80 %",
    )
    inlet_vapour_margin: Quantity = _limit(
        "temperature difference", "Pump inlet at least this far from boiling.", least=-50.0, most=100.0, default=2.0
    )
    suction_margin: Quantity = _limit(
        "pressure difference",
        "Pump inlet at least this far beyond boiling and the NPSH required.",
        least=-1e5,
        most=1e5,
        default=0.0,
        example="0 kPa",
    )
    rail_vapour_margin: Quantity = _limit(
        "temperature difference",
        "Rail at least this far from boiling.",
        least=-50.0,
        most=100.0,
        default=limits.RAIL_VAPOUR_MARGIN.value,
    )
    suction_depression: Quantity = _limit(
        "pressure difference",
        "Pump inlet at most this far below the tank.",
        least=0.0,
        most=9e4,
        default=limits.SUCTION_DEPRESSION.value,
        example="7 kPa",
    )
    suction_velocity: Quantity = _limit(
        "velocity", "Greatest in the suction line.", least=0.0, most=20.0, default=limits.SUCTION_VELOCITY.value
    )
    feed_velocity: Quantity = _limit(
        "velocity", "Greatest in the feed.", least=0.0, most=20.0, default=limits.FEED_VELOCITY.value
    )
    return_velocity: Quantity = _limit(
        "velocity", "Greatest in the return.", least=0.0, most=20.0, default=limits.RETURN_VELOCITY.value
    )
    filter_drop: Quantity = _limit(
        "pressure difference", "Greatest drop of the clogged filter.", least=0.0, most=5e5, default=70e3
    )
    rating_over_set: Quantity = _limit(
        "pressure difference",
        "Least working pressure beyond set pressure and boost by this.",
        least=0.0,
        most=1e7,
        default=0.0,
    )
    rating_over_dead_head: Quantity = _limit(
        "pressure difference", "Least working pressure beyond dead-head by this.", least=0.0, most=1e7, default=0.0
    )

    def asked(self) -> list[tuple[Rule, float]]:
        """Return the rules that are asked, with their limits."""
        return [(rule, getattr(self, rule.name)) for rule in RULES if getattr(self, rule.name) is not None]


def signed_margin(rule: Rule, limit: float, value: Any) -> Any:
    """Return by how much a requirement is met, in units of its limit (of its scale where the limit is zero).

    Negative where it is not met; NaN stays NaN.
    """
    return rule.sense * (np.asarray(value) - limit) / (abs(limit) or rule.scale)


def proving_conditions(
    car: Car,
    *,
    speeds: int = 10,
    cold: Any = "-10 degC",
    mild: Any = "20 degC",
    pump_wear: Any = 0.10,
    filter_clogging: Any = 4.0,
    supply_voltage: Any = None,
    altitude: Any = 0.0,
) -> Conditions:
    """Return the operating points a car is proved on: idle to red line, cold, mild and hot, new and worn.

    Parameters
    ----------
    car : Car
        Whose own air and tank temperatures are the hot day.
    speeds : int
        Idle and this many less one at full load up to the red line.
    cold, mild : quantity
        Temperatures of air and tank, K.
    pump_wear : fraction
        Of the worn pump: tolerance of a class, from memory.
    filter_clogging : number
        Of the old filter, of 1 to 10 (from memory).
    supply_voltage, altitude : quantity, optional
        One value each.

    Returns
    -------
    Conditions
        Shape (speeds, 3, 2); 60 points by default.

    Examples
    --------
    >>> proving_conditions(Car.named("finch")).shape
    (10, 3, 2)
    """
    engine, around = car.engine, car.surroundings
    full_load = np.linspace(max(1500.0, 1.2 * engine.idle_speed), engine.red_line, speeds - 1)
    cold, mild = (float(units.convert(value, "temperature")) for value in (cold, mild))
    air = float(around.air_temperature)
    tank = air if around.tank_temperature is None else float(around.tank_temperature)
    return Conditions(
        rpm=np.concatenate([[engine.idle_speed], full_load])[:, None, None],
        load=np.concatenate([[0.0], np.ones(speeds - 1)])[:, None, None],
        air_temperature=np.array([cold, mild, air])[:, None],
        tank_temperature=np.array([cold, mild, tank])[:, None],
        pump_wear=np.array([0.0, float(units.convert(pump_wear, "fraction"))]),
        filter_clogging=np.array([1.0, float(filter_clogging)]),
        supply_voltage=supply_voltage,
        altitude=altitude,
    )


@dataclass(frozen=True)
class Assessed:
    """One requirement against the worst of the operating points.

    Attributes
    ----------
    rule : Rule
        What was asked.
    limit, worst : float
        SI; `worst` is NaN where the requirement does not apply or its rating is not known.
    margin : float
        Positive where met, in units of the limit.
    where : str
        The operating point with the worst value, in words.
    """

    rule: Rule
    limit: float
    worst: float
    margin: float
    where: str

    @property
    def met(self) -> bool | None:
        """Whether it is met; None where it does not apply."""
        return None if np.isnan(self.margin) else bool(self.margin >= 0.0)

    def in_words(self, value: float) -> str:
        """Return a value of this measure as a person reads it."""
        value = 0.0 if abs(value) < 1e-6 * abs(self.limit) else value
        if self.rule.measure.kind == "fraction":
            return f"{100.0 * value:.3g} %"
        return units.shown(value, self.rule.measure.kind)

    @property
    def statement(self) -> str:
        """What was found, against the limit."""
        side = "at least" if self.rule.sense > 0 else "at most"
        said = f"{self.rule.measure.about}: {self.in_words(self.worst)}, {side} {self.in_words(self.limit)} wanted"
        return f"{said} ({self.where})" if self.where else said


@dataclass(frozen=True)
class Assessment:
    """A system held to requirements.

    Attributes
    ----------
    system : System
    requirements : Requirements
    run : Run
        At every operating point of the conditions.
    items : tuple of Assessed
        One for each requirement asked.
    """

    system: System
    requirements: Requirements
    run: Run
    items: tuple[Assessed, ...]

    @property
    def met(self) -> bool:
        """Whether every point solved and all that must hold holds; warnings may stand. Never a statement on safety."""
        failed = any(item.met is False and item.rule.severity is Severity.FAILURE for item in self.items)
        return bool(np.all(self.run.outcome.converged)) and not failed

    def item(self, name: str) -> Assessed:
        """Return one requirement by name."""
        return {item.rule.name: item for item in self.items}[name]

    def findings(self) -> list[Finding]:
        """Return a finding for each requirement that is not met, the gravest first."""
        found = []
        unsolved = ~np.asarray(self.run.outcome.converged)
        if unsolved.any():
            advice = "read the reason; the figures below leave these points out"
            found.append(Finding(Severity.FAILURE, "solution", self.run.outcome.summary(), advice))
        for item in self.items:
            if item.met is False:
                rule = item.rule
                found.append(Finding(rule.severity, rule.name, item.statement, rule.advice, source=rule.source))
        return sorted(found, key=lambda finding: -finding.severity)

    def table(self) -> pd.DataFrame:
        """Return one row per requirement: limit, worst value, whether met, where, source."""
        return opener.assessment_table(self)


def assess(
    system: System, requirements: Requirements | None = None, conditions: Conditions | None = None
) -> Assessment:
    """Hold a system to requirements on all operating points.

    Parameters
    ----------
    system : System
    requirements : Requirements, optional
        The defaults, if left out.
    conditions : Conditions, optional
        `proving_conditions` of the car, if left out.

    Returns
    -------
    Assessment

    Examples
    --------
    >>> result = assess(Car.named("finch").system("return"))
    >>> result.item("injector_duty").met, result.item("bypass").met
    (False, True)
    """
    wanted = requirements or Requirements()
    run = system.solve(proving_conditions(system.car) if conditions is None else conditions)
    items = []
    for rule, limit in wanted.asked():
        value = rule.measure.of(system, run)
        if value is None or np.all(np.isnan(value)):
            items.append(Assessed(rule, limit, np.nan, np.nan, ""))
            continue
        margin = np.broadcast_to(signed_margin(rule, limit, value), run.conditions.shape)
        worst = int(np.nanargmin(margin))
        worst_value = float(np.broadcast_to(value, run.conditions.shape).reshape(-1)[worst])
        where = "" if np.ndim(value) == 0 else point_in_words(run.conditions, worst)
        items.append(Assessed(rule, limit, worst_value, float(margin.reshape(-1)[worst]), where))
    return Assessment(system, wanted, run, tuple(items))


def point_in_words(conditions: Conditions, index: int) -> str:
    """Return one operating point in words, by its number in the flattened batch."""
    point = {name: float(values[index]) for name, values in conditions.points().items()}
    share = point["load"]
    load = "idle" if share == 0.0 else "full load" if share == 1.0 else f"load {100.0 * share:.0f} %"
    tank = units.shown(point["tank_temperature"], "temperature", digits=3)
    said = [f"{point['rpm']:.0f} rpm", load, f"tank at {tank}"]
    if point["pump_wear"]:
        said.append(f"pump worn {100.0 * point['pump_wear']:.0f} %")
    if point.get("filter_clogging", 1.0) != 1.0:
        said.append("old filter")
    return ", ".join(said)
