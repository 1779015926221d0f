"""From which vessels fuel comes to a station, and where a pot runs over to."""

from __future__ import annotations

from fuelsim.system.plumbing import Plumbing

__all__ = ["overflow_paths", "vessels_before"]


def vessels_before(plumbing: Plumbing, station: str) -> tuple[str, ...]:
    """Return the tank and pots from which fuel comes to a station without passing another vessel.

    Parameters
    ----------
    plumbing : Plumbing
    station : str
        A vessel is its own only source.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> plumbing = Car.named("plover").system("pot").plumbing
    >>> vessels_before(plumbing, "lift_outlet"), vessels_before(plumbing, "left_rail")
    (('tank',), ('pot',))
    """
    found: list[str] = []
    seen, waiting = {station}, [station]
    while waiting:
        here = waiting.pop(0)
        if here in plumbing.vessels:
            found.append(here)
            continue
        for link in plumbing.links:
            if link.downstream == here and link.upstream not in seen:
                seen.add(link.upstream)
                waiting.append(link.upstream)
    return tuple(found)


def overflow_paths(plumbing: Plumbing, pot: str) -> tuple[tuple[str, ...], ...]:
    """Return the ways through which a pot runs over into the next vessel, each as links in the order of flow.

    Parameters
    ----------
    plumbing : Plumbing
    pot : str
        Where a way parts, its first branch is followed.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> overflow_paths(Car.named("plover").system("pot").plumbing, "pot")
    (('overflow',),)
    """
    paths = []
    for link in plumbing.overflows(pot):
        names = [link.name]
        while link.downstream not in plumbing.vessels:
            link = plumbing.overflows(link.downstream)[0]
            names.append(link.name)
        paths.append(tuple(names))
    return tuple(paths)
