"""From which vessels fuel comes to a station, and where a pot runs over to."""

from __future__ import annotations

from fuelsim.system.plumbing import Plumbing

__all__ = ["overflow_end", "overflow_path", "vessels_before"]


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


def overflow_path(plumbing: Plumbing, pot: str) -> tuple[str, ...]:
    """Return the links through which a pot runs over into the next vessel, in the order of flow.

    Parameters
    ----------
    plumbing : Plumbing
    pot : str
        Where overflows part ways, the first one is followed.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> overflow_path(Car.named("plover").system("pot").plumbing, "pot")
    ('overflow',)
    """
    names: list[str] = []
    station = pot
    while not names or station not in plumbing.vessels:
        link = plumbing.overflows(station)[0]
        names.append(link.name)
        station = link.downstream
    return tuple(names)


def overflow_end(plumbing: Plumbing, pot: str) -> str:
    """Return the vessel into which a pot runs over.

    Parameters
    ----------
    plumbing : Plumbing
    pot : str
        As for `overflow_path`.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> overflow_end(Car.named("plover").system("pot").plumbing, "pot")
    'tank'
    """
    return plumbing.link(overflow_path(plumbing, pot)[-1]).downstream
