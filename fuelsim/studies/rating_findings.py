"""Whether every part holds the pressure it may see: set pressure and boost always, dead-head when a way is blocked."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = [
    "ratings_below_dead_head",
    "ratings_below_set_pressure",
    "relief_below_set_pressure",
    "set_pressure_above_dead_head",
    "unrated_parts",
]

RULE = cite("common_practice", "every part's working pressure at temperature covers the pump's dead-head")
FIRE = "petrol under pressure burns; a line that bursts near an exhaust starts a fire"


def _regulator(system: System) -> Any:
    return next(link.part for link in system.plumbing.links if link.name == "regulator")


def _highest_set(system: System) -> float:
    """Return the highest pressure held on purpose, Pa over the atmosphere: set pressure, and boost if it sees it."""
    regulator = _regulator(system)
    boost = np.max(system.car.engine.boost_pressure) if regulator.reference == "manifold" else 0.0
    return float(np.max(regulator.set_pressure) + boost)


def _set_in_words(system: System) -> str:
    total, alone = _highest_set(system), float(np.max(_regulator(system).set_pressure))
    said = f"the set pressure of {shown(alone, 'pressure difference', digits=3)}"
    return said if total == alone else f"{said} and boost, {shown(total, 'pressure difference', digits=3)} in all"


def _under_pressure(system: System) -> dict[str, float | None]:
    """Return the working pressure, Pa, of each part from pump to rail that a car file can rate; None if not given."""
    path = system.plumbing.path
    after = path[path.index("pump") + 1 :]
    parts: dict[str, Any] = {
        link.name: link.part for link in system.plumbing.links if link.name in after and link.name != "rail_bore"
    }
    if system.car.damper is not None:
        parts["damper"] = system.car.damper
    rated = {name: getattr(part, "working_pressure", None) for name, part in parts.items()}
    return {name: None if pressure is None else float(np.min(pressure)) for name, pressure in rated.items()}


def ratings_below_set_pressure(system: System, run: Run) -> list[Finding]:
    """Parts rated below the pressure that always stands in them: these fail."""
    return [
        Finding(
            Severity.FAILURE,
            name,
            f"rated {shown(rated, 'pressure difference', digits=3)}, below {_set_in_words(system)}",
            "fit a part of a higher rating before anything is run",
            caution=FIRE,
            source=RULE,
        )
        for name, rated in _under_pressure(system).items()
        if rated is not None and rated < _highest_set(system)
    ]


def ratings_below_dead_head(system: System, run: Run) -> list[Finding]:
    """Parts rated above set pressure and boost, but below what the pump reaches when a way is pinched or blocked."""
    dead_head = system.car.pump.dead_head_pressure
    return [
        Finding(
            Severity.WARNING,
            name,
            f"rated {shown(rated, 'pressure difference', digits=3)}, but the pump's dead-head is "
            f"{shown(dead_head, 'pressure difference', digits=3)}",
            "fit a part of a higher rating, or a pump with a relief valve below the rating",
            caution=FIRE,
            source=RULE,
        )
        for name, rated in _under_pressure(system).items()
        if rated is not None and _highest_set(system) <= rated < dead_head
    ]


def unrated_parts(system: System, run: Run) -> list[Finding]:
    """Parts under pressure whose rating is not given, so that it is not checked."""
    unknown = [name for name, rated in _under_pressure(system).items() if rated is None]
    if not unknown:
        return []
    reach = shown(system.car.pump.dead_head_pressure, "pressure difference", digits=3)
    text = f"no working pressure given; they see {reach} when a way is blocked"
    return [Finding(Severity.NOTE, ", ".join(unknown), text, "read it off the part and give it", source=RULE)]


def set_pressure_above_dead_head(system: System, run: Run) -> list[Finding]:
    """A regulator that never regulates, because the pump does not reach its set pressure."""
    dead_head = system.car.pump.dead_head_pressure
    if _highest_set(system) < dead_head:
        return []
    text = f"{_set_in_words(system)} is not reached: the pump's dead-head is {shown(dead_head, 'pressure difference')}"
    advice = "a lower set pressure, or a pump of a higher one"
    return [Finding(Severity.FAILURE, "regulator", text, advice, source=cite("computed"))]


def relief_below_set_pressure(system: System, run: Run) -> list[Finding]:
    """A relief valve in the pump that opens before the regulator does."""
    relief = system.car.pump.relief_pressure
    if relief is None or float(np.min(relief)) >= _highest_set(system):
        return []
    opens = shown(float(np.min(relief)), "pressure difference")
    text = f"its relief valve opens at {opens}, below {_set_in_words(system)}"
    return [Finding(Severity.WARNING, "pump", text, "a pump of a higher relief pressure", source=cite("computed"))]
