"""Materials of line walls: what conducts heat, radiates and widens under pressure."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["WALLS", "WallMaterial"]


class WallMaterial(NamedTuple):
    """A kind of line wall (typical, from memory).

    Attributes
    ----------
    conductivity : float
        W/m/K.
    emissivity : float
        Of the outside.
    thickness : float
        Usual, m.
    compliance : float
        Share of the contents by which it widens per pascal: rubber 2 to 6 % per MPa, braided PTFE 0.5 to 1.5, steel or
        nylon 0.1 to 0.4.
    """

    conductivity: float
    emissivity: float
    thickness: float
    compliance: float


WALLS = {
    "steel": WallMaterial(50.0, 0.3, 0.9e-3, 0.2e-8),
    "aluminium": WallMaterial(200.0, 0.15, 1.2e-3, 0.2e-8),
    "rubber": WallMaterial(0.20, 0.9, 3.0e-3, 4.0e-8),
    "nylon": WallMaterial(0.25, 0.9, 1.0e-3, 0.3e-8),
    "ptfe": WallMaterial(0.25, 0.4, 1.2e-3, 1.0e-8),
}
"""Walls of lines; `ptfe` is a thin liner under a steel braid."""
