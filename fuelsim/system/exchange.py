"""What a part exchanges heat with: the air around it through a wall or a given conductance, the exhaust, the engine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.car.walls import WallMaterial
from fuelsim.typing import FloatLike

__all__ = ["AIRSTREAM_SHARE", "RADIATED_SHARE", "Exchange", "Wall", "between", "moving_share"]

SPEED_SCALE = 10.0
"""m/s of vehicle speed at which 63 % of the way from standing to cruising heat exchange is gone [assumed]."""
AIRSTREAM_SHARE = {"underfloor": 0.30, "bay": 0.10, "ambient": 0.50, "tank": 0.0}
"""Air speed across a part over vehicle speed, by where it is [assumed]: a line in moving air sees about 4 m/s."""
RADIATED_SHARE = 0.5
"""Share of a line's outside that faces the exhaust."""


@dataclass(frozen=True)
class Wall:
    """Wall of a line whose heat conductance is computed.

    Attributes
    ----------
    material : WallMaterial
    bore, thickness, length : float
        m.
    """

    material: WallMaterial
    bore: FloatLike
    thickness: FloatLike
    length: FloatLike

    @property
    def outside_diameter(self) -> FloatLike:
        """Outside diameter, m."""
        return self.bore + 2.0 * self.thickness


@dataclass(frozen=True)
class Exchange:
    """Heat exchange of one link with its surroundings.

    Attributes
    ----------
    zone : str
        Air around it: ``"tank"`` (the fuel in it), ``"underfloor"``, ``"bay"``, ``"ambient"``, ``"coolant"``.
    conductance : float
        Heat conductance to that air while the car stands, W/K.
    moving_conductance : float or None
        The same at cruising speed; None for no difference.
    engine_conductance : float
        Heat conductance to the engine's metal, W/K.
    wall : Wall or None
        Where given, films and wall decide instead of `conductance`.
    radiation : float
        Heat radiated onto it, W.
    """

    zone: str = "underfloor"
    conductance: FloatLike = 0.0
    moving_conductance: FloatLike | None = None
    engine_conductance: FloatLike = 0.0
    wall: Wall | None = None
    radiation: FloatLike = 0.0


def moving_share(vehicle_speed: FloatLike) -> FloatLike:
    """Return how far heat exchange has gone from that of a standing to that of a cruising car, 0 to 1.

    Parameters
    ----------
    vehicle_speed : float or array
        m/s.

    Examples
    --------
    >>> [round(float(moving_share(speed)), 2) for speed in (0.0, 10.0, 30.0)]
    [0.0, 0.63, 0.95]
    """
    return -np.expm1(-np.asarray(vehicle_speed, dtype=float) / SPEED_SCALE)


def between(standing: FloatLike, moving: FloatLike | None, share: FloatLike) -> FloatLike:
    """Return a value between those of a standing and a cruising car; `moving` None is no difference."""
    return standing if moving is None else standing + share * (moving - standing)
