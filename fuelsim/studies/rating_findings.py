"""Whether every part is rated for the pressure it may see: set pressure always, dead-head when a way is blocked."""

from __future__ import annotations

import numpy as np

from fuelsim.finding import Finding, Severity
from fuelsim.sources import cite
from fuelsim.system.pressure_rating import HeldPressure, PressureRating
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = [
    "ratings_below_dead_head",
    "ratings_below_set_pressure",
    "relief_below_set_pressure",
    "set_pressure_above_dead_head",
    "unrated_parts",
]

RULE = cite(
    ["cfr_33_154_500", "common_practice"], "every part's working pressure at temperature covers the pump's dead-head"
)
FIRE = "petrol under pressure burns; a line that bursts near an exhaust starts a fire"


def _held_at(system: System, held: HeldPressure) -> float:
    """Return the highest pressure held on purpose where a part stands, Pa above the atmosphere."""
    return float(np.max(held.held_pressure(float(np.max(system.car.engine.boost_pressure)))))


def _held_in_words(system: System, held: HeldPressure) -> str:
    boost = float(np.max(system.car.engine.boost_pressure))
    total, alone = float(np.max(held.held_pressure(boost))), float(np.max(held.held_pressure()))
    if not held.set_pressures:
        return f"the pump's dead-head of {shown(total, 'pressure difference', digits=3)}"
    set_pressure = f"the set pressure of {shown(alone, 'pressure difference', digits=3)}"
    if total == alone:
        return set_pressure
    return f"{set_pressure} and boost, {shown(total, 'pressure difference', digits=3)} in all"


def _reaches(rating: PressureRating) -> str:
    """Return how sure the dead-head is: that of the pump, or the top of its class."""
    return "is" if rating.dead_head_to_withstand == rating.dead_head_pressure else "may be, by its class,"


def ratings_below_set_pressure(system: System, run: Run) -> list[Finding]:
    """Parts rated below the pressure that always acts on them: these fail.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"feed.working_pressure": "200 kPa"}).system("return")
    >>> print(ratings_below_set_pressure(system, everyday_run(system))[0])
    failure, feed: rated 200 kPa, below the set pressure of 300 kPa; ...
    """
    return [
        Finding(
            Severity.FAILURE,
            name,
            f"rated {shown(rated, 'pressure difference', digits=3)}, below {_held_in_words(system, rating.held)}",
            "fit a part of a higher rating before anything is run",
            caution=FIRE,
            source=RULE,
            measure="rating_over_set",
        )
        for name, rating in system.plumbing.under_pressure.items()
        if rating.always and (rated := rating.least) is not None and rated < _held_at(system, rating.held)
    ]


def ratings_below_dead_head(system: System, run: Run) -> list[Finding]:
    """Parts rated above set pressure and boost, but below what the pump reaches when a way is pinched or blocked.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"feed.working_pressure": "400 kPa"}).system("return")
    >>> print(ratings_below_dead_head(system, everyday_run(system))[0])
    warning, feed: rated 400 kPa, but the pump's dead-head may be, by its class, 850 kPa; ...
    """
    return [
        Finding(
            Severity.WARNING,
            name,
            f"rated {shown(rated, 'pressure difference', digits=3)}, but the pump's dead-head {_reaches(rating)} "
            f"{shown(rating.dead_head_to_withstand, 'pressure difference', digits=3)}",
            "fit a part of a higher rating, or a pump with a relief valve below the rating",
            caution=FIRE,
            source=RULE,
            measure="rating_over_dead_head" if rating.always else "",
        )
        for name, rating in system.plumbing.under_pressure.items()
        if (rated := rating.least) is not None
        and rated < rating.dead_head_to_withstand
        and (rated >= _held_at(system, rating.held) or not rating.always)
    ]


def unrated_parts(system: System, run: Run) -> list[Finding]:
    """Parts under pressure whose rating is not given, so that it is not checked.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"feed.working_pressure": None}).system("return")
    >>> print(unrated_parts(system, everyday_run(system))[0])
    note, feed: no working pressure given; ...
    """
    unknown = [name for name, rating in system.plumbing.under_pressure.items() if rating.working_pressure is None]
    if not unknown:
        return []
    seen = max(system.plumbing.under_pressure[name].dead_head_to_withstand for name in unknown)
    reach = shown(seen, "pressure difference", digits=3)
    text = f"no working pressure given; they see {reach} when a way is blocked"
    return [Finding(Severity.NOTE, ", ".join(unknown), text, "read it off the part and give it", source=RULE)]


def set_pressure_above_dead_head(system: System, run: Run) -> list[Finding]:
    """A regulator or controller that never regulates, because the pump does not reach its set pressure.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"rail_regulator.set_pressure": "750 kPa"}).system("return")
    >>> print(set_pressure_above_dead_head(system, everyday_run(system))[0])
    failure, regulator: the set pressure of 750 kPa is not reached: the pump's dead-head is ... kPa; ...
    """
    plumbing, objections = system.plumbing, []
    reached_at = plumbing.dead_heads({pump.name: pump.part.dead_head_pressure for pump in plumbing.pumps})
    places = [
        *((link.name, link.upstream) for link in plumbing.regulators),
        *((link.name, link.downstream) for link in plumbing.reducers),
        *((name, plumbing.link(name).reference or plumbing.vessel) for name in plumbing.controls),
    ]
    # The first of those that stand at one pressure speaks for all.
    first = {plumbing.zone(station): (name, station) for name, station in reversed(places)}
    for name, station in reversed(first.values()):
        held = plumbing.held_at(station)
        if _held_at(system, held) < reached_at[station]:
            continue
        reached = shown(reached_at[station], "pressure difference")
        text = f"{_held_in_words(system, held)} is not reached: the pump's dead-head is {reached}"
        advice = "a lower set pressure, or a pump of a higher one"
        objections.append(Finding(Severity.FAILURE, name, text, advice, source=cite("computed")))
    return objections


def relief_below_set_pressure(system: System, run: Run) -> list[Finding]:
    """A relief valve in the pump that opens below the pressure that is held.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> values = {"pump.relief_pressure": "6 bar", "rail_regulator.set_pressure": "6.5 bar"}
    >>> system = fs.Car.named("finch").with_values(values).system("return")
    >>> print(relief_below_set_pressure(system, everyday_run(system))[0])
    warning, pump: its relief valve opens at 600 kPa, below the set pressure of 650 kPa; ...
    """
    objections = []
    for pump in system.plumbing.pumps:
        relief, held = pump.part.relief_pressure, system.plumbing.held_at(pump.downstream)
        # Where nothing holds a pressure on purpose, the relief valve is what limits it.
        if relief is not None and held.set_pressures and float(np.min(relief)) < _held_at(system, held):
            opens = shown(float(np.min(relief)), "pressure difference")
            text = f"its relief valve opens at {opens}, below {_held_in_words(system, held)}"
            advice = "a pump of a higher relief pressure"
            objections.append(Finding(Severity.WARNING, pump.name, text, advice, source=cite("computed")))
    return objections
