"""Values given to a network converted to SI: heights, reservoir pressures, liquids, draws."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.arguments import number
from fuelsim.errors import InputError, nearest
from fuelsim.liquid import Liquid
from fuelsim.network.elements import Elements, Link
from fuelsim.parts.damper import Damper
from fuelsim.typing import FloatLike, Given

__all__ = ["BULK_MODULUS", "HEIGHT", "LateWall", "WaveInputs", "draws_of", "liquids_of", "reservoir_pressure"]

HEIGHT = number("length", -1e4, 1e4, example="0.3 m", single=True)
_PRESSURE = number("absolute pressure", -1e9, 1e9, example="101 kPa absolute", flat=True)
_VOLUME_DRAWN = number("volume flow", -100.0, 100.0, example="60 L/h", flat=True)
_MASS_DRAWN = number("mass flow", -1e5, 1e5, example="40 kg/h", flat=True)
BULK_MODULUS = number("pressure difference", 1e6, 1e11, example="1 GPa", single=True)
"""Plausible ranges of any network of pipes, for a network may be a sketch of something else than a car."""


class LateWall(NamedTuple):
    """The part of a wall's widening that follows the pressure late (one Kelvin-Voigt element).

    Attributes
    ----------
    compliance : float
        Share of the contents by which the wall widens late for each pascal, 1/Pa.
    time : float
        Time constant with which it does, s.
    """

    compliance: float
    time: float


class WaveInputs(NamedTuple):
    """What `Network.transient` was given, whose docstring says what each is; numbers in SI, the rest as given.

    A plumbed car has a liquid for the losses of each link, `liquids`, while flows count at the density of `liquid`; a
    vapour pressure at each node, `vapour_pressures`; and walls that widen late, `late_walls`, by line.
    """

    liquid: Liquid
    draw: Mapping[str, Given]
    dampers: Mapping[str, Damper]
    bulk_modulus: float
    wall_compliance: Given
    wave_speed: Given
    friction: str
    duration: float = 0.0
    pressures: Mapping[str, Given] = MappingProxyType({})
    opening: Mapping[str, Given] = MappingProxyType({})
    vapour_pressure: float = 0.0
    step: float = 0.0
    output_step: float | None = None
    liquids: Mapping[str, Liquid] = MappingProxyType({})
    vapour_pressures: Mapping[str, float] = MappingProxyType({})
    late_walls: Mapping[str, LateWall] = MappingProxyType({})


def reservoir_pressure(pressure: Given, name: str, atmospheric_pressure: FloatLike) -> FloatLike:
    """Return the pressure of a reservoir, Pa absolute, a float or an array (points,)."""
    single = float(atmospheric_pressure) if np.ndim(atmospheric_pressure) == 0 else None
    try:
        value = _PRESSURE.to_si(units.convert(pressure, "absolute pressure", atmospheric_pressure=single))
        if np.any(np.asarray(value) <= 0.0):
            raise InputError(
                "an absolute pressure is positive",
                given=pressure,
                accepted="Pa absolute, or text such as '101 kPa absolute' or '5 kPa gauge'",
            )
    except InputError as error:
        raise error.at(part=name, key="pressure") from None
    return value


def liquids_of(liquid: Liquid | Mapping[str, Liquid], links: Mapping[str, Link]) -> list[Liquid]:
    """Return the liquid of each link, from one for all or one by name."""
    if isinstance(liquid, Liquid):
        return [liquid] * len(links)
    for name in liquid:
        if name not in links:
            raise InputError("a liquid for an unknown link", given=name, accepted=nearest(name, links))
    missing = [name for name in links if name not in liquid]
    if missing:
        raise InputError("no liquid for a link", accepted="a liquid for every link, by name", part=missing[0])
    return [liquid[name] for name in links]


def draws_of(
    elements: Elements,
    draw: Mapping[str, Given] | None,
    mass_draw: Mapping[str, Given] | None,
    density: FloatLike,
    single: bool,
) -> dict[str, FloatLike]:
    """Return the draws by node in m3/s at the reference density.

    Parameters
    ----------
    elements : Elements
    draw, mass_draw : mapping of str to quantity or None
        Volume flows and mass flows by node.
    density : float or array (points,)
        Reference density, kg/m3.
    single : bool
        Whether there is one liquid, without which a volume is not determined.

    Raises
    ------
    InputError
        For an unknown node, a reservoir, a value that is no flow, or a volume without a density.
    """
    if draw and not single:
        raise InputError("a volume drawn needs one liquid", given=dict(draw), accepted="mass_draw, kg/s", key="draw")
    draws: dict[str, FloatLike] = {}
    for given, declared, key in ((draw, _VOLUME_DRAWN, "draw"), (mass_draw, _MASS_DRAWN, "mass_draw")):
        for name, value in (given or {}).items():
            if name not in elements.nodes:
                problem = "nothing can be drawn from a reservoir" if name in elements.reservoirs else "no such node"
                raise InputError(problem, given=name, accepted=nearest(str(name), elements.nodes), key=key)
            try:
                flow = declared.to_si(value)
            except InputError as error:
                raise error.at(part=name, key=key) from None
            if key == "mass_draw":
                flow = flow / density
            draws[name] = draws[name] + flow if name in draws else flow
    return draws
