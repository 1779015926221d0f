"""Inputs that mean another thing than they seem to, or that were left out though an answer depends on them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.finding import Finding, Severity
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.line_size import LineSize
from fuelsim.sources import cite
from fuelsim.studies.extremes import least
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = ["nominal_sizes_given_as_bores", "tank_temperature_left_out"]

SAME = 3e-3
"""Share by which a bore may differ from a size that it is taken for: rounding to three digits."""
LOSS_EXPONENT = 4.75
"""Friction at a given flow goes with the bore to this negative power in smooth turbulent pipe (Blasius 1913)."""
TANK_ABOVE_AIR = 20.0
"""Rise of a tank above the air up to which vapour is looked for, K: half of it in modern cars, all with a return
[assumed]."""


class NominalSize(NamedTuple):
    """A size by which a tube or hose is called, and its true bore, m."""

    size: LineSize
    nominal: float
    bore: float


def _nominal_sizes(material: str) -> list[NominalSize]:
    """Return the sizes of a material that are called by another diameter than their bore."""
    metal = material.removeprefix("rusty_").removeprefix("painted_")
    sizes = [size for size in map(LineSize.named, catalogue_names("lines")) if size.material == metal]
    return [NominalSize(size, _called(size), size.inside_diameter) for size in sizes]


def _called(size: LineSize) -> float:
    """Return the diameter by which a size is called, m: a dash number counts sixteenths of an inch."""
    if size.size.startswith("-"):
        return float(size.size.removeprefix("-")) * 25.4e-3 / 16.0
    return size.inside_diameter if size.outside_diameter is None else float(size.outside_diameter)


def nominal_sizes_given_as_bores(system: System, run: Run) -> list[Finding]:
    """A line whose bore is the outside size by which its tube or hose is called: which of both is meant?

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge; not used.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.studies.checks import everyday_run
    >>> system = fs.Car.named("finch").with_values({"feed.bore": "3/8 in"}).system("return")
    >>> print(nominal_sizes_given_as_bores(system, everyday_run(system))[0])
    warning, feed: its bore of 9.52 mm is what steel tube of 3/8 in measures outside; inside it has 8.1 mm ...
    """
    objections = []
    for link in system.plumbing.lines:
        bore, sizes = float(np.min(link.part.bore)), _nominal_sizes(link.part.material)
        if any(abs(size.bore - bore) <= SAME * bore for size in sizes):
            continue
        called = [size for size in sizes if abs(size.nominal - bore) <= SAME * bore]
        if not called:
            continue
        family, name = called[0].size.family.replace("_", " "), called[0].size.size
        inside = " or ".join(dict.fromkeys(shown(size.bore, "bore", digits=3) for size in called))
        measured = "measures outside" if called[0].size.outside_diameter is not None else "is called by"
        ratio = (bore / min(size.bore for size in called)) ** LOSS_EXPONENT
        statement = (
            f"its bore of {shown(bore, 'bore', digits=3)} is what {family} of {name} {measured}; inside it has {inside}"
            f", and up to {ratio:.2g} times the loss"
        )
        listed = f"catalogue = '{called[0].size.family} {name}' without a bore"
        advice = f"say which is meant: the true inside diameter, or {listed}"
        objections.append(Finding(Severity.WARNING, link.name, statement, advice, source=cite("computed")))
    return objections


def tank_temperature_left_out(system: System, run: Run) -> list[Finding]:
    """A car whose tank is taken to be as cold as the air, though vapour at its pump depends on it.

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
    >>> values = {"surroundings.tank_temperature": None, "surroundings.air_temperature": "40 degC"}
    >>> system = fs.Car.named("heron").with_values(values).system("return")
    >>> print(tank_temperature_left_out(system, everyday_run(system))[0])
    warning, tank: no temperature given, so that it is taken to be that of the air, 40 °C; ...
    """
    around = system.car.surroundings
    if around.tank_temperature is not None:
        return []
    air = shown(float(np.max(around.air_temperature)), "temperature", digits=3)
    margin = min(least(run.vapour_margin[pump.upstream]) for pump in system.plumbing.pumps)
    statement = f"no temperature given, so that it is taken to be that of the air, {air}"
    near = bool(margin < TANK_ABOVE_AIR)
    if near and margin > 0.0:
        warmer = shown(margin, "temperature difference", digits=2)
        statement += f"; {warmer} warmer, fuel boils at the pump's inlet"
    rise = shown(0.5 * TANK_ABOVE_AIR, "temperature difference", digits=2)
    return [
        Finding(
            Severity.WARNING if near else Severity.NOTE,
            "tank",
            statement,
            "measure it after an hour of traffic and give tank_temperature in [surroundings], or see fs.drive",
            source=cite(
                "assumed", f"a tank is up to {rise} above the air, with a return up to twice that", rests_on="tank_heat"
            ),
        )
    ]
