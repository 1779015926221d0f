"""Loss coefficients of fittings by named methods, dp = K rho v^2 / 2, computed with ``fluids``.

Reputable methods differ by a factor of three for one bend, so the method is a choice with a name. All functions take
arrays and broadcast; the slow scalar functions of ``fluids`` are called element by element, once per fitting and never
inside the solver.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = [
    "BEND_METHODS",
    "CONTRACTION_METHODS",
    "ENTRANCE_METHODS",
    "LossCoefficient",
    "TeeLosses",
    "bend_loss",
    "contraction_loss",
    "entrance_loss",
    "expansion_loss",
    "referred_to",
    "tee_losses",
    "three_k_loss",
    "throat_loss",
    "two_k_loss",
]

BEND_METHODS = ("Rennels", "Ito", "Miller", "Swamee", "Crane", "Crane standard")
CONTRACTION_METHODS = ("Rennels", "Crane")
ENTRANCE_METHODS = ("Rennels", "Swamee", "Blevins", "Idelchik", "Crane", "Miller")


class LossCoefficient(NamedTuple):
    """A loss coefficient K + K1/Re on the velocity head of one bore.

    Attributes
    ----------
    turbulent : float or array
        Turbulent part K.
    laminar : float or array
        Laminar part K1, which is divided by the Reynolds number.
    """

    turbulent: FloatLike
    laminar: FloatLike = 0.0


class TeeLosses(NamedTuple):
    """Loss coefficients of a tee on the velocity head of the combined flow; they may be negative.

    Attributes
    ----------
    run, branch : float or array
        K of the straight leg and of the branch.
    """

    run: FloatLike
    branch: FloatLike


def bend_loss(
    bore: FloatLike,
    angle: FloatLike,
    radius_ratio: FloatLike,
    reynolds_number: FloatLike = 2e4,
    roughness: FloatLike = 1.5e-6,
    method: str = "Rennels",
) -> FloatArray:
    """Return K of a smooth bend.

    Parameters
    ----------
    bore : float or array
        Bore of the bend, m.
    angle : float or array
        Angle by which the flow turns, rad.
    radius_ratio : float or array
        Radius of the bend's centre line over the bore.
    reynolds_number : float or array
        Reynolds number at which K is evaluated.
    roughness : float or array
        Roughness of the wall, m.
    method : str
        One of `BEND_METHODS`.

    Returns
    -------
    array

    Examples
    --------
    90 degrees, 8 mm, r/D 1.5, Re 2e4, 1.5 um:

    >>> [round(float(bend_loss(8e-3, np.pi / 2, 1.5, method=m)), 4) for m in ("Rennels", "Ito", "Miller", "Swamee")]
    [0.2966, 0.2984, 0.3365, 0.3717]
    """
    from fluids.fittings import bend_rounded

    def one(d: float, turn: float, ratio: float, reynolds: float, rough: float) -> float:
        return bend_rounded(
            Di=d, angle=np.degrees(turn), bend_diameters=ratio, Re=reynolds, roughness=rough, method=method
        )

    return _each(one, bore, angle, radius_ratio, reynolds_number, roughness)


def entrance_loss(method: str = "Rennels") -> float:
    """Return K of a sharp, flush entrance.

    Parameters
    ----------
    method : str
        One of `ENTRANCE_METHODS`.

    Returns
    -------
    float

    Examples
    --------
    >>> entrance_loss()
    0.57
    """
    from fluids.fittings import entrance_sharp

    return float(entrance_sharp(method=method))


def contraction_loss(bore: FloatLike, smaller_bore: FloatLike, method: str = "Rennels") -> FloatArray:
    """Return K of a sharp contraction, on the velocity head of the smaller bore.

    Crane TP-410 has K = 0.5 (1 - (d/D)^2); Rennels is 20 to 37 % above it for d/D from 0.3 to 0.75.

    Parameters
    ----------
    bore, smaller_bore : float or array
        Bores D before and d behind the contraction, m; K is 0 where the second is not smaller.
    method : str
        One of `CONTRACTION_METHODS`.

    Returns
    -------
    array

    Examples
    --------
    >>> [round(float(contraction_loss(8e-3, 6e-3, method)), 5) for method in CONTRACTION_METHODS]
    [0.29437, 0.21875]
    """
    from fluids.fittings import contraction_conical_Crane, contraction_sharp

    def one(d1: float, d2: float) -> float:
        if d2 >= d1:
            return 0.0
        return float(contraction_conical_Crane(d1, d2, l=0.0) if method == "Crane" else contraction_sharp(d1, d2))

    return _each(one, bore, smaller_bore)


def expansion_loss(smaller_bore: FloatLike, bore: FloatLike) -> FloatArray:
    """Return K of a sudden expansion, on the velocity head of the smaller bore (Rennels; Borda and Carnot).

    Parameters
    ----------
    smaller_bore, bore : float or array
        Bores before and behind the expansion, m; K is 0 where the first is not smaller.

    Returns
    -------
    array

    Examples
    --------
    >>> round(float(expansion_loss(6e-3, 8e-3)), 5)
    0.19141
    """
    from fluids.fittings import diffuser_sharp

    return _each(lambda d1, d2: diffuser_sharp(Di1=d1, Di2=d2) if d1 < d2 else 0.0, smaller_bore, bore)


def throat_loss(bore: FloatLike, throat_ratio: FloatLike) -> FloatArray:
    """Return K of a barb or nipple: contraction to its throat and expansion behind it, on the full bore.

    Parameters
    ----------
    bore : float or array
        Bore of the hose, m.
    throat_ratio : float or array
        Bore of the throat over that of the hose; 0.70-0.80 for barbs [memory].

    Returns
    -------
    array

    Examples
    --------
    >>> round(float(throat_loss(8e-3, 0.75)), 3)  # (0.29437 + 0.19141) / 0.75^4
    1.535
    """
    throat = np.asarray(bore) * throat_ratio
    own: FloatArray = contraction_loss(bore, throat) + expansion_loss(throat, bore)
    result: FloatArray = own / np.asarray(throat_ratio) ** 4
    return result


def referred_to(loss_coefficient: FloatLike, own_bore: FloatLike, line_bore: FloatLike) -> FloatLike:
    """Return a loss coefficient on the velocity head of the line, K (D_line/D_own)^4.

    Parameters
    ----------
    loss_coefficient : float or array
        K on the velocity head of the fitting's own bore.
    own_bore, line_bore : float or array
        Bores D_own of the fitting and D_line of the line, m.

    Returns
    -------
    array

    Examples
    --------
    >>> referred_to(1.0, 4e-3, 8e-3)
    16.0
    """
    return loss_coefficient * (line_bore / own_bore) ** 4


def two_k_loss(laminar: FloatLike, turbulent: FloatLike, bore: FloatLike) -> LossCoefficient:
    """Return the two-K form, K1/Re + K_inf (1 + 25.4 mm/D).

    Parameters
    ----------
    laminar, turbulent : float or array
        Coefficients K1 and K_inf.
    bore : float or array
        Bore D of the fitting, m.

    Returns
    -------
    LossCoefficient

    Notes
    -----
    Source: Hooper, Chem. Eng. 24 Aug. 1981, 97 [hooper_1981], as in ``fluids.fittings.Hooper2K``.

    Examples
    --------
    >>> k = two_k_loss(800.0, 0.2, 8e-3)
    >>> round(k.turbulent + k.laminar / 2e4, 3)
    0.875
    """
    return LossCoefficient(turbulent * (1.0 + 0.0254 / bore), laminar)


def three_k_loss(laminar: FloatLike, turbulent: FloatLike, size: FloatLike, bore: FloatLike) -> LossCoefficient:
    """Return the three-K form, K1/Re + K_i (1 + K_d (25.4 mm/D)^0.3).

    Parameters
    ----------
    laminar, turbulent, size : float or array
        Coefficients K1, K_i and K_d.
    bore : float or array
        Bore D of the fitting, m; it stands for the nominal size.

    Returns
    -------
    LossCoefficient

    Notes
    -----
    Source: Silverberg & Darby, Chem. Eng. July 1999, 101 [silverberg_darby_1999], as in ``fluids.fittings.Darby3K``,
    for whom the size is the nominal one.

    Examples
    --------
    >>> k = three_k_loss(800.0, 0.071, 4.2, 8e-3)
    >>> round(float(k.turbulent + k.laminar / 2e4), 5)
    0.53273
    """
    return LossCoefficient(turbulent * (1.0 + size * (0.0254 / np.asarray(bore)) ** 0.3), laminar)


def tee_losses(
    run_bore: FloatLike,
    branch_bore: FloatLike,
    run_flow: FloatLike,
    branch_flow: FloatLike,
    angle: FloatLike = np.pi / 2,
    *,
    joining: bool,
) -> TeeLosses:
    """Return K of a tee or wye at one split of the flow.

    Parameters
    ----------
    run_bore, branch_bore : float or array
        Bores of the straight leg and of the branch, m.
    run_flow, branch_flow : float or array
        Flows in the straight leg and in the branch, both positive, m3/s.
    angle : float or array
        Angle between branch and run, rad.
    joining : bool
        Whether the branch joins the run, or leaves it.

    Returns
    -------
    TeeLosses

    Notes
    -----
    Source: Crane TP-410 (2009), as in ``fluids.fittings``.

    Examples
    --------
    Crane TP-410 example 7.35, 300 and 100 gpm in 4 in pipe:

    >>> tee = tee_losses(0.1023, 0.1023, 0.018917, 0.00633, joining=True)
    >>> round(float(tee.branch), 2), round(float(tee.run), 3)
    (-0.04, 0.326)
    """
    from fluids import fittings

    if joining:
        run, branch = fittings.K_run_converging_Crane, fittings.K_branch_converging_Crane
    else:
        run, branch = fittings.K_run_diverging_Crane, fittings.K_branch_diverging_Crane
    given = (run_bore, branch_bore, run_flow, branch_flow, np.degrees(angle))
    return TeeLosses(_each(run, *given), _each(branch, *given))


def _each(function: Callable[..., float], *arguments: FloatLike) -> FloatArray:
    """Call a function of numbers for each element of the broadcast arguments."""
    arrays = np.broadcast_arrays(*(np.asarray(item, dtype=float) for item in arguments))
    values = [function(*(float(x) for x in row)) for row in zip(*(a.ravel() for a in arrays), strict=True)]
    result: FloatArray = np.array(values, dtype=float).reshape(arrays[0].shape)[()]
    return result
