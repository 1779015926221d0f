"""Materials of line walls: how they conduct heat, radiate and widen under pressure."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["SOFT_WALLS", "WALLS", "WallMaterial"]


class WallMaterial(NamedTuple):
    """A kind of line wall.

    Conductivities of rubber (neoprene 0.23, EPDM 0.25), nylon and PTFE follow DIN EN 12524:2000 [en_12524].
    Emissivities [emissivity_tables]: rubber and nylon black, steel plated 0.23 to 0.28, rusted 0.7 to 0.8, painted 0.9,
    aluminium 0.09 (sheet) to 0.31 (oxidised); that of braid, and the compliances of rubber and of braided PTFE, are
    [memory]: brake hose has a table of its own [cfr_49_571_106], and moving hose is stiffer than resting hose
    [asme_hose_modulus]. Metals and nylon widen as closed thick tubes of 205, 70 and 0.4 to 1.4 GPa do [computed].

    Attributes
    ----------
    conductivity : float
        Thermal conductivity, W/m/K.
    emissivity : float
        Emissivity of the outside, as a fraction.
    thickness : float
        Usual thickness, m.
    compliance : float
        Share of the contents by which the tube widens per pascal: steel 0.004 to 0.006 % per MPa, aluminium 0.014,
        nylon 0.5 (rigid) to 2 (plasticised), rubber 2 to 6, braided PTFE 0.5 to 1.5.
    """

    conductivity: float
    emissivity: float
    thickness: float
    compliance: float


WALLS = {
    "steel": WallMaterial(50.0, 0.26, 0.9e-3, 5e-11),
    "rusty_steel": WallMaterial(50.0, 0.75, 0.9e-3, 5e-11),
    "painted_steel": WallMaterial(50.0, 0.9, 0.9e-3, 5e-11),
    "aluminium": WallMaterial(200.0, 0.2, 1.2e-3, 1.4e-10),
    "rubber": WallMaterial(0.24, 0.9, 3.0e-3, 4.0e-8),
    "nylon": WallMaterial(0.25, 0.9, 1.0e-3, 1.0e-8),
    "ptfe": WallMaterial(0.25, 0.4, 1.2e-3, 1.0e-8),
}
"""Walls of lines: `steel` is plated, `ptfe` a thin liner under a steel braid."""
SOFT_WALLS = frozenset({"rubber", "nylon", "ptfe"})
"""Walls that are no metal: they widen late, and fuel passes through them."""
