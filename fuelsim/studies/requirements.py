"""Requirements as data: the limits a fuel delivery is held to, each with its rule, severity and source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.finding import Severity
from fuelsim.sources import cite
from fuelsim.studies import limits
from fuelsim.studies.measures import MEASURES, Measure
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["RULES", "Requirements", "Rule", "signed_margin"]


class Rule(NamedTuple):
    """How a requirement is judged.

    Attributes
    ----------
    name : str
        Field of `Requirements` and name of the measure.
    sense : int
        +1 where the measure must be at least the limit, -1 where at most.
    severity : Severity
        Failure for a mandatory requirement, warning for a recommended one.
    scale : float
        Margin that counts as one where the limit is zero, in the unit of the measure.
    source : str
        Where the default limit comes from.
    advice : str
        What to do where the requirement is not met.

    Examples
    --------
    >>> next(rule for rule in RULES if rule.name == "bypass").measure.kind
    'volume flow'
    """

    name: str
    sense: int
    severity: Severity
    scale: float
    source: str
    advice: str

    @property
    def measure(self) -> Measure:
        """The figure that is judged."""
        return MEASURES[self.name]


_MANDATORY, _RECOMMENDED = Severity.FAILURE, Severity.WARNING
RULES = (
    Rule(
        "rail_shortfall",
        -1,
        _MANDATORY,
        0.1,
        cite("common_practice", "10 % of pressure is 5 % of injector flow"),
        "find the part that costs the pressure; a larger pump, better wire, larger feed or new filter",
    ),
    Rule(
        "rail_excess",
        -1,
        _MANDATORY,
        0.1,
        cite("common_practice", "10 % of pressure is 5 % of injector flow"),
        "a larger return line, a larger regulator, or less pump at idle",
    ),
    Rule(
        "bypass",
        +1,
        _MANDATORY,
        limits.BYPASS.value,
        limits.BYPASS.citation,
        "a larger pump, better wire or less loss before the regulator",
    ),
    Rule(
        "pump_margin",
        +1,
        _RECOMMENDED,
        0.2,
        cite(["cfr_14_23_955", "common_practice"], "20-30 %; 125 % of the flow in aircraft"),
        "a larger pump",
    ),
    Rule(
        "injector_duty",
        -1,
        _MANDATORY,
        limits.INJECTOR_DUTY.value,
        limits.INJECTOR_DUTY.citation,
        "larger injectors, or a higher set pressure if pump and ratings allow it",
    ),
    Rule(
        "pulse_margin",
        +1,
        _RECOMMENDED,
        0.5e-3,
        cite("memory", "shortest linear pulse 1.2-2.0 ms"),
        "smaller injectors: they do not follow so short a pulse",
    ),
    Rule(
        "pump_voltage",
        +1,
        _MANDATORY,
        1.0,
        limits.PUMP_VOLTAGE.citation,
        "thicker wire, fresh relay and ground",
    ),
    Rule("supply_drop", -1, _RECOMMENDED, 0.5, limits.SUPPLY_DROP.citation, "thicker or shorter wire, fresh relay"),
    Rule(
        "fuse_loading",
        -1,
        _MANDATORY,
        limits.FUSE_LOADING.value,
        limits.FUSE_LOADING.citation,
        "a larger fuse, and wire that carries it",
    ),
    Rule(
        "inlet_vapour_margin",
        +1,
        _MANDATORY,
        2.0,
        cite("assumed", "2 K; below 0 K vapour takes flow from the pump"),
        "pump into the tank, larger suction, fuel of lower vapour pressure, or less heat",
    ),
    Rule(
        "suction_margin",
        +1,
        _RECOMMENDED,
        10e3,
        limits.NPSH_REQUIRED_SOURCE,
        "the pump is noisy and wears, though it still pumps: a larger suction line, or the pump into the tank",
    ),
    Rule(
        "rail_vapour_margin",
        +1,
        _MANDATORY,
        limits.RAIL_VAPOUR_MARGIN.value,
        limits.RAIL_VAPOUR_MARGIN.citation,
        "a return through the rail, a heat shield, a higher set pressure or fuel of lower vapour pressure",
    ),
    Rule(
        "suction_depression",
        -1,
        _RECOMMENDED,
        limits.SUCTION_DEPRESSION.value,
        limits.SUCTION_DEPRESSION.citation,
        "a larger or shorter suction line, a clean strainer, a lower pump",
    ),
    Rule("suction_velocity", -1, _RECOMMENDED, 1.0, limits.SUCTION_VELOCITY.citation, "a larger suction line"),
    Rule("feed_velocity", -1, _RECOMMENDED, 3.0, limits.FEED_VELOCITY.citation, "a larger feed"),
    Rule("return_velocity", -1, _RECOMMENDED, 2.0, limits.RETURN_VELOCITY.citation, "a larger return line"),
    Rule(
        "filter_drop",
        -1,
        _RECOMMENDED,
        50e3,
        cite(["common_practice", "iso_4020"], "35-70 kPa; ISO 4020 ends a filter's life at 70 kPa"),
        "a larger filter, changed sooner",
    ),
    Rule(
        "rating_over_set",
        +1,
        _MANDATORY,
        50e3,
        cite("common_practice"),
        "hose, filter and connectors of a higher rating: these are below the working pressure",
    ),
    Rule(
        "rating_over_dead_head",
        +1,
        _RECOMMENDED,
        100e3,
        cite("common_practice"),
        "parts rated for the pump's dead-head pressure, which they see when a return is pinched",
    ),
)
"""Every requirement, with its sense, severity, source and advice."""


def _limit(kind: str, doc: str, *, least: float, most: float, default: float, example: str = "") -> Quantity:
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
        "fraction",
        "Greatest fraction of set pressure by which the rail pressure falls below it.",
        least=0.0,
        most=1.0,
        default=0.10,
    )
    rail_excess: Quantity = _limit(
        "fraction",
        "Greatest fraction of set pressure by which the rail pressure rises above it.",
        least=0.0,
        most=5.0,
        default=0.10,
    )
    bypass: Quantity = _limit(
        "volume flow", "Least bypass flow.", least=0.0, most=1e-3, default=limits.BYPASS.value, example="15 L/h"
    )
    pump_margin: Quantity = _limit(
        "fraction",
        "Least bypass flow as a fraction of what the engine burns.",
        least=0.0,
        most=10.0,
        default=0.2,
        example="20 %",
    )
    injector_duty: Quantity = _limit(
        "fraction",
        "Greatest fraction of the time that the injectors are open.",
        least=0.05,
        most=1.0,
        default=limits.INJECTOR_DUTY.value,
        example="85 %",
    )
    pulse_margin: Quantity = _limit(
        "pulse time",
        "Least time by which a pulse exceeds the injectors' shortest pulse.",
        least=-1e-2,
        most=1e-2,
        default=0.0,
    )
    pump_voltage: Quantity = _limit(
        "voltage", "Least voltage at the pump.", least=0.0, most=60.0, default=limits.PUMP_VOLTAGE.value
    )
    supply_drop: Quantity = _limit(
        "voltage",
        "Greatest voltage drop between supply and pump.",
        least=0.0,
        most=12.0,
        default=limits.SUPPLY_DROP.value,
    )
    fuse_loading: Quantity = _limit(
        "fraction",
        "Greatest current as a fraction of the fuse rating.",
        least=0.1,
        most=1.0,
        default=limits.FUSE_LOADING.value,
        example="80 %",
    )
    inlet_vapour_margin: Quantity = _limit(
        "temperature difference",
        "Least temperature margin to boiling at the pump's inlet.",
        least=-50.0,
        most=100.0,
        default=2.0,
    )
    suction_margin: Quantity = _limit(
        "pressure difference",
        "Least pressure margin at the pump's inlet beyond boiling and the NPSH required.",
        least=-1e5,
        most=1e5,
        default=0.0,
        example="0 kPa",
    )
    rail_vapour_margin: Quantity = _limit(
        "temperature difference",
        "Least temperature margin to boiling in the rail.",
        least=-50.0,
        most=100.0,
        default=limits.RAIL_VAPOUR_MARGIN.value,
    )
    suction_depression: Quantity = _limit(
        "pressure difference",
        "Greatest pressure of the tank's vapour space less that of the pump's inlet.",
        least=0.0,
        most=9e4,
        default=limits.SUCTION_DEPRESSION.value,
        example="7 kPa",
    )
    suction_velocity: Quantity = _limit(
        "velocity",
        "Greatest velocity in the suction line.",
        least=0.0,
        most=20.0,
        default=limits.SUCTION_VELOCITY.value,
    )
    feed_velocity: Quantity = _limit(
        "velocity", "Greatest velocity in the feed.", least=0.0, most=20.0, default=limits.FEED_VELOCITY.value
    )
    return_velocity: Quantity = _limit(
        "velocity", "Greatest velocity in the return.", least=0.0, most=20.0, default=limits.RETURN_VELOCITY.value
    )
    filter_drop: Quantity = _limit(
        "pressure difference", "Greatest pressure drop of the clogged filter.", least=0.0, most=5e5, default=70e3
    )
    rating_over_set: Quantity = _limit(
        "pressure difference",
        "Least excess of the working pressures over set pressure and boost.",
        least=0.0,
        most=1e7,
        default=0.0,
    )
    rating_over_dead_head: Quantity = _limit(
        "pressure difference",
        "Least excess of the working pressures over dead-head pressure.",
        least=0.0,
        most=1e7,
        default=0.0,
    )

    def asked(self) -> list[tuple[Rule, float]]:
        """Return the rules that are asked, with their limits.

        Returns
        -------
        list of (Rule, float)
            Limits in SI; a requirement of None is left out.
        """
        return [(rule, getattr(self, rule.name)) for rule in RULES if getattr(self, rule.name) is not None]


def signed_margin(rule: Rule, limit: float, value: FloatLike) -> FloatArray:
    """Return by how much a requirement is met, as a multiple of its limit.

    Parameters
    ----------
    rule : Rule
        The requirement.
    limit : float
        Its limit, SI; where it is zero, the margin is a multiple of the rule's scale.
    value : float or array
        The measure, SI.

    Returns
    -------
    array
        Shape of the value; negative where the requirement is not met, NaN where the measure is.

    Examples
    --------
    >>> duty = next(rule for rule in RULES if rule.name == "injector_duty")
    >>> round(float(signed_margin(duty, 0.8, 0.6)), 3)
    0.25
    """
    margin: FloatArray = rule.sense * (np.asarray(value, dtype=float) - limit) / (abs(limit) or rule.scale)
    return margin
