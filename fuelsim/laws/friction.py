"""Pressure loss of a liquid in a round line: laminar, turbulent, and a smooth way between them.

Laminar flow has f = 64/Re. Turbulent flow follows Colebrook's equation in the explicit form of Praks and Brkic
(Mathematics 8 (2020) 26 and Energies papers of the same year, coefficients from memory), which needs two logarithms
and no power; the tests hold it against ``fluids``. Between Re 2000 and 4000, where reputable laws differ by up to
60 %, f Re is blended so that the loss and its slope are continuous and the loss rises with flow.
"""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np

from fuelsim.laws.link import LinkLaw

__all__ = [
    "LAMINAR_LIMIT",
    "LINE",
    "TURBULENT_LIMIT",
    "friction_factor",
    "line_coefficients",
    "line_loss",
    "split_line_loss",
]

LAMINAR_LIMIT = 2000.0
"""Reynolds number below which the law is purely laminar."""
TURBULENT_LIMIT = 4000.0
"""Reynolds number above which the law is purely turbulent."""

_SLOPE = 0.8685972  # 2 / ln 10
_SHIFT = 0.7794
_ROUGH = 8.0884
_FACTOR = 0.5588
_CONSTANT = 1.2079
_LAMINAR = 64.0  # f Re of laminar flow


def _friction_times_reynolds(reynolds: Any, roughness: Any) -> tuple[Any, Any]:
    """Return f Re and Re d(f Re)/dRe; `reynolds` is not negative, `roughness` is the roughness over the bore."""
    # This is the innermost loop of every solution: operations in place, each a pass over the whole batch.
    turbulent = np.maximum(reynolds, LAMINAR_LIMIT)
    # 1/sqrt(f) = 0.8685972 w, w = B - C + C / d, d = x - 0.5588 C + 1.2079, with
    # B = ln Re - 0.7794, x = B + e Re, C = ln x.
    rough = turbulent * (roughness / _ROUGH)
    w = np.log(turbulent)
    w -= _SHIFT
    x = w + rough
    c = np.log(x)
    d = c * -_FACTOR
    d += x
    d += _CONSTANT
    share = c / d
    w -= c
    w += share
    # Slopes with respect to ln Re, for which B' = 1 and x' = 1 + e Re:
    # w' = 1 - x' ((1 - (1 + 0.5588 C/d) / d) / x + C/d / d).
    fall = share * _FACTOR
    fall += 1.0
    fall /= d
    fall -= 1.0
    fall /= x
    share /= d
    share -= fall
    rough += 1.0
    share *= rough
    # f Re = Re / (0.8685972 w)^2, and its slope is f Re (1 - 2 w'/w), where 1 - w' is `share` now.
    product = turbulent / (w * w)
    product *= 1.0 / (_SLOPE * _SLOPE)
    share -= 1.0
    share /= w
    share *= 2.0
    share += 1.0
    share *= product
    # The blend: a cubic step t^2 (3 - 2 t) in Re, flat at both ends, on f Re; there Re = 2000 (1 + t).
    t = turbulent * (1.0 / (TURBULENT_LIMIT - LAMINAR_LIMIT))
    t -= LAMINAR_LIMIT / (TURBULENT_LIMIT - LAMINAR_LIMIT)
    t = np.minimum(t, 1.0)
    square = t * t
    weight = t * -2.0
    weight += 3.0
    weight *= square
    product -= _LAMINAR
    square -= 1.0
    square *= t
    square *= -6.0 * LAMINAR_LIMIT / (TURBULENT_LIMIT - LAMINAR_LIMIT)
    square *= product
    share *= weight
    share += square
    product *= weight
    product += _LAMINAR
    return product, share


def friction_factor(reynolds: Any, relative_roughness: Any) -> Any:
    """Return the Darcy friction factor of a round line.

    Parameters
    ----------
    reynolds : float or array
        Reynolds number, positive.
    relative_roughness : float or array
        Roughness over bore.

    Returns
    -------
    float or array
        Within 0.13 % of Colebrook's equation above Re 4000 and k/D up to 0.05; 64/Re below Re 2000; a smooth blend
        between, where no law is known to better than tens of per cent.

    Notes
    -----
    Source: Praks and Brkic (2020), from memory, checked against ``fluids.friction.Colebrook``.

    Examples
    --------
    Colebrook gives 0.01851387 (``fluids``) for:

    >>> round(float(friction_factor(1e5, 1e-4)), 5)
    0.01851
    >>> round(float(friction_factor(1000.0, 1e-4)), 6)
    0.064
    """
    reynolds = np.asarray(reynolds, dtype=float)
    return _friction_times_reynolds(reynolds, np.asarray(relative_roughness, dtype=float))[0] / reynolds


def line_coefficients(
    length: Any,
    bore: Any,
    roughness: Any,
    loss_coefficient: Any,
    laminar_loss_coefficient: Any,
    density: Any,
    kinematic_viscosity: Any,
) -> tuple[Any, ...]:
    """Return the coefficients of `line_loss` for a line with fittings.

    The loss is rho v^2/2 (f L/D + K + K1/Re), with K1 the laminar part of a two-K fitting.

    Parameters
    ----------
    length, bore, roughness : float or array (points,)
        m.
    loss_coefficient, laminar_loss_coefficient : float or array (points,)
        K and K1, dimensionless.
    density, kinematic_viscosity : float or array (points,)
        kg/m3 and m2/s.

    Returns
    -------
    reynolds_per_flow, relative_roughness, friction_pressure, fitting_pressure, laminar_fitting_pressure
        s/m3, 1, Pa, Pa, Pa.
    """
    velocity_head = 0.5 * density * (kinematic_viscosity / bore) ** 2
    return (
        4.0 / (pi * bore * kinematic_viscosity),
        roughness / bore,
        velocity_head * length / bore,
        velocity_head * loss_coefficient,
        velocity_head * laminar_loss_coefficient,
    )


def line_loss(flow: Any, coefficients: tuple[Any, ...]) -> tuple[Any, Any]:
    """Return the loss of a line with fittings and its slope.

    With Re = |q| 4/(pi D nu) the loss is Re (f Re rho/2 (nu/D)^2 L/D + Re rho/2 (nu/D)^2 K + rho/2 (nu/D)^2 K1),
    odd in q.

    Parameters
    ----------
    flow : array (links, points)
        m3/s.
    coefficients : tuple
        From `line_coefficients`.

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    The smooth 8 mm tube of 3 m at Re 1000 loses 50.0 Pa (64/Re, ``fluids``):

    >>> given = line_coefficients(3.0, 0.008, 1.5e-6, 0.0, 0.0, 740.0, 0.6e-6)
    >>> loss, _ = line_loss(np.array([1000.0 / given[0]]), given)
    >>> loss.round(2).tolist()
    [49.95]
    """
    per_flow, roughness, friction, fitting, laminar = coefficients
    signed = flow * per_flow
    reynolds = np.abs(signed)
    product, product_slope = _friction_times_reynolds(reynolds, roughness)
    fittings = reynolds * fitting
    product_slope += product
    product *= friction
    product += fittings
    product += laminar
    product_slope *= friction
    fittings *= 2.0
    product_slope += fittings
    product_slope += laminar
    product_slope *= per_flow
    product *= signed
    return product, product_slope


def split_line_loss(flow: Any, loss: Any, slope: Any, merged: tuple[Any, ...], own: tuple[Any, ...]) -> tuple[Any, Any]:
    """Return the loss and slope of one of several lines in series that were merged into one.

    Friction divides as length, so a line's loss is its share of the friction of all, with its fittings put right.

    Parameters
    ----------
    flow, loss, slope : array (points,)
        Of the merged line: m3/s, Pa and Pa s/m3.
    merged, own : tuple
        Coefficients of the merged line and of the one line.

    Examples
    --------
    >>> one = line_coefficients(1.0, 0.008, 0.0, 2.0, 0.0, 740.0, 6e-7)
    >>> other = line_coefficients(3.0, 0.008, 0.0, 0.0, 0.0, 740.0, 6e-7)
    >>> both = (*one[:2], *(a + b for a, b in zip(one[2:], other[2:], strict=True)))
    >>> flow = np.array([5e-5])
    >>> bool(np.allclose(split_line_loss(flow, *line_loss(flow, both), both, one), line_loss(flow, one)))
    True
    """
    per_flow, _, friction, fitting, laminar = merged
    share = own[2] / friction
    signed = flow * per_flow
    reynolds = np.abs(signed)
    more = own[3] - share * fitting
    more_laminar = own[4] - share * laminar
    return (
        share * loss + signed * (more * reynolds + more_laminar),
        share * slope + per_flow * (2.0 * more * reynolds + more_laminar),
    )


def _typical_flow(coefficients: tuple[Any, ...]) -> Any:
    return 1e4 / coefficients[0]


LINE = LinkLaw(
    name="line",
    coefficients=(
        "reynolds_per_flow",
        "relative_roughness",
        "friction_pressure",
        "fitting_pressure",
        "laminar_fitting_pressure",
    ),
    series=("friction_pressure", "fitting_pressure", "laminar_fitting_pressure"),
    split=split_line_loss,
    loss=line_loss,
    typical_flow=_typical_flow,
)
