"""What a part's working pressure is compared with: what is held where it stands, and what the pumps can reach."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.typing import FloatLike

__all__ = ["HeldPressure", "Holder", "PressureRating"]


class HeldPressure(NamedTuple):
    """Pressures that regulators and controlled pumps hold on purpose at one place.

    Attributes
    ----------
    set_pressures : tuple of (float or array, bool)
        Set pressures, Pa, each with whether the manifold's pressure adds to it.
    otherwise : float
        What is held where nothing holds a pressure on purpose, Pa above the atmosphere.
    """

    set_pressures: tuple[tuple[FloatLike, bool], ...]
    otherwise: float

    def held_pressure(self, boost: FloatLike = 0.0) -> FloatLike:
        """Return the highest pressure held on purpose, Pa above the atmosphere.

        Parameters
        ----------
        boost : float or array
            Manifold pressure above the atmosphere, Pa; a regulator that sees the manifold adds it to its set pressure.
        """
        held: FloatLike | None = None
        for pressure, sees_manifold in self.set_pressures:
            total = pressure + (boost if sees_manifold else 0.0)
            held = total if held is None else np.maximum(held, total)
        return self.otherwise if held is None else held


class Holder(NamedTuple):
    """What holds the rails' pressure: a regulator or a controlled pump.

    Attributes
    ----------
    name : str
        Its name in results.
    table : str
        Key of the car's table that holds its set pressure and droop.
    set_pressure, droop : float or array
        Pa, and change of the held pressure with the flow, Pa s/m3.
    sees_manifold : bool
        Whether the manifold's pressure adds to the set pressure.
    """

    name: str
    table: str
    set_pressure: FloatLike
    droop: FloatLike
    sees_manifold: bool


class PressureRating(NamedTuple):
    """Working pressure of a part that may see a pump's pressure.

    Attributes
    ----------
    working_pressure : float, array (points,) or None
        Pa above the atmosphere; None where it is not given.
    always : bool
        Whether the part stands under the regulated pressure while the pump runs; a part of the return sees the pump's
        pressure only where it is pinched or blocked.
    dead_head_pressure, dead_head_to_withstand : float
        The highest pressure that the pumps before it reach with every way blocked, as rated and as their class allows,
        Pa above the atmosphere.
    held : HeldPressure
        What is held on purpose where it stands.
    """

    working_pressure: FloatLike | None
    always: bool
    dead_head_pressure: float
    dead_head_to_withstand: float
    held: HeldPressure

    @property
    def least(self) -> float | None:
        """Least working pressure over the operating points, Pa; None where it is not given."""
        return None if self.working_pressure is None else float(np.min(self.working_pressure))
