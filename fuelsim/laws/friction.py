r"""Pressure loss of a liquid in a round line: laminar, turbulent, and a smooth blend between them.

Laminar flow has f = 64/Re. Turbulent flow follows Colebrook's equation

.. math:: 1/\sqrt f = -2 \log_{10}\left(\frac{\epsilon/D}{3.7} + \frac{2.51}{Re \sqrt f}\right)

in the explicit form of Praks and Brkic (2020) [praks_brkic_2020], which needs two logarithms and no power. An earlier
form has 0.0096 % [brkic_praks_2019]. It is within 0.0012 % of Colebrook's equation with 3.71 in place of 3.7, which
alone makes 0.13 % on rough walls. Between Re 2000 and 4000, where reputable laws differ by up to 60 %, f Re is blended
so that the loss and its slope are continuous and the loss rises with flow.

`friction_factor` is the equation to read. The solver calls `_friction_times_reynolds`, which gives the same f Re
together with its slope in as few passes over the batch as possible; the tests hold the one against the other.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np

from fuelsim.laws.link import LawSample, LinkLaw, flows_both_ways
from fuelsim.typing import ArrayLike, FloatArray, FloatLike, LinkArray, PointArray

__all__ = [
    "LAMINAR_LIMIT",
    "LINE",
    "TURBULENT_LIMIT",
    "LineCoefficients",
    "friction_factor",
    "line_coefficients",
    "line_loss",
    "line_resistance",
    "split_line_loss",
    "turbulent_friction_factor",
]

LAMINAR_LIMIT = 2000.0
"""Reynolds number below which the law is purely laminar."""
TURBULENT_LIMIT = 4000.0
"""Reynolds number above which the law is purely turbulent."""

_SLOPE = 0.8685972  # 2 / ln 10
_SHIFT = 0.779626
_ROUGH = 8.0897
_FACTOR = 0.5588
_CONSTANT = 1.2079
_LAMINAR = 64.0  # f Re of laminar flow
_TYPICAL_REYNOLDS = 1e4
"""Reynolds number from which Newton's iteration starts."""


class LineCoefficients(NamedTuple):
    """Coefficients of `line_loss`; made by `line_coefficients`.

    Attributes
    ----------
    reynolds_per_flow : float or array
        Reynolds number over flow, s/m3.
    relative_roughness : float or array
        Roughness over bore.
    friction_pressure : float or array
        rho/2 (nu/D)^2 L/D: loss of the straight line at f Re^2 = 1, Pa.
    fitting_pressure : float or array
        rho/2 (nu/D)^2 K: loss of the fittings' turbulent part at Re = 1, Pa.
    laminar_fitting_pressure : float or array
        rho/2 (nu/D)^2 K1: loss of the fittings' laminar part at Re = 1, Pa.
    """

    reynolds_per_flow: FloatLike
    relative_roughness: FloatLike
    friction_pressure: FloatLike
    fitting_pressure: FloatLike
    laminar_fitting_pressure: FloatLike


def turbulent_friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> FloatArray:
    """Return the Darcy friction factor of turbulent flow in a round line.

    1/sqrt(f) = 0.8685972 (B - C + C / (x - 0.5588 C + 1.2079)), with B = ln Re - 0.779626, x = B + (e/D) Re / 8.0897
    and C = ln x.

    Parameters
    ----------
    reynolds : float or array
        Reynolds number, at least 2000.
    relative_roughness : float or array
        Roughness over bore, e/D, up to 0.05.

    Returns
    -------
    array
        Within 0.0012 % of Colebrook's equation with 3.71 above Re 4000, and within 0.13 % of it with 3.7.

    Notes
    -----
    Source: Praks and Brkic (2020) [praks_brkic_2020].

    Examples
    --------
    Colebrook gives 0.01851387 (``fluids``) for:

    >>> round(float(turbulent_friction_factor(1e5, 1e-4)), 5)
    0.01851
    """
    re = np.asarray(reynolds, dtype=float)
    b = np.log(re) - _SHIFT
    x = b + np.asarray(relative_roughness) * re / _ROUGH
    c = np.log(x)
    factor: FloatArray = (_SLOPE * (b - c + c / (x - _FACTOR * c + _CONSTANT))) ** -2.0
    return factor


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> FloatArray:
    """Return the Darcy friction factor of a round line in laminar, transitional and turbulent flow.

    f Re = 64 + w (f_t Re - 64) with the weight w = t^2 (3 - 2 t), t = (Re - 2000)/2000 cut off at 0 and 1, and f_t the
    `turbulent_friction_factor`.

    Parameters
    ----------
    reynolds : float or array
        Reynolds number, positive.
    relative_roughness : float or array
        Roughness over bore.

    Returns
    -------
    array
        Within 0.13 % of Colebrook's equation above Re 4000 and e/D up to 0.05; 64/Re below Re 2000; a smooth blend
        between, where no law is known to better than tens of per cent.

    Examples
    --------
    >>> friction_factor([1000.0, 1e5], 1e-4).round(5).tolist()
    [0.064, 0.01851]
    """
    re = np.asarray(reynolds, dtype=float)
    t = np.clip((re - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT), 0.0, 1.0)
    weight = t * t * (3.0 - 2.0 * t)
    turbulent = np.maximum(re, LAMINAR_LIMIT)
    turbulent_product = turbulent_friction_factor(turbulent, relative_roughness) * turbulent
    factor: FloatArray = (_LAMINAR + weight * (turbulent_product - _LAMINAR)) / re
    return factor


def _friction_times_reynolds(reynolds: LinkArray, roughness: FloatLike) -> tuple[LinkArray, LinkArray]:
    """Return f Re of `friction_factor` and its slope Re d(f Re)/dRe, for the solver's innermost loop.

    `reynolds` is not negative, `roughness` is the roughness over the bore. Every operation is in place, since each is a
    pass over the whole batch.
    """
    turbulent = np.maximum(reynolds, LAMINAR_LIMIT)
    # 1/sqrt(f) = 0.8685972 w, w = B - C + C / d, d = x - 0.5588 C + 1.2079, with
    # B = ln Re - 0.779626, x = B + e Re, C = ln x.
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
    # 1 - w' = x' (d - 1 + (x - 0.5588) C / d) / (d x).
    fall = x - _FACTOR
    fall *= share
    fall += d
    fall -= 1.0
    d *= x
    rough += 1.0
    fall *= rough
    fall /= d
    # f Re = Re / (0.8685972 w)^2, and its slope is f Re (1 - 2 w'/w); from here on twice both.
    square = w * w
    product = turbulent / square
    product *= 2.0 / (_SLOPE * _SLOPE)
    fall -= 1.0
    fall /= w
    fall *= 2.0
    fall += 1.0
    fall *= product
    # The blend: a cubic step t^2 (3 - 2 t) in Re, flat at both ends, on f Re; there Re = 2000 (1 + t), and the slope of
    # the step is 6 (t - t^3).
    turbulent *= 1.0 / (TURBULENT_LIMIT - LAMINAR_LIMIT)
    turbulent -= LAMINAR_LIMIT / (TURBULENT_LIMIT - LAMINAR_LIMIT)
    t = np.minimum(turbulent, 1.0)
    square = t * t
    half_weight = 1.5 - t
    half_weight *= square
    product -= 2.0 * _LAMINAR
    square -= 1.0
    square *= t
    square *= -3.0 * LAMINAR_LIMIT / (TURBULENT_LIMIT - LAMINAR_LIMIT)
    square *= product
    fall *= half_weight
    fall += square
    product *= half_weight
    product += _LAMINAR
    return product, fall


def line_coefficients(
    length: FloatLike,
    bore: FloatLike,
    roughness: FloatLike,
    loss_coefficient: FloatLike,
    laminar_loss_coefficient: FloatLike,
    density: FloatLike,
    kinematic_viscosity: FloatLike,
) -> LineCoefficients:
    """Return the coefficients of `line_loss` for a line with fittings.

    The loss is rho v^2/2 (f L/D + K + K1/Re), with K1 the laminar part of a two-K fitting.

    Parameters
    ----------
    length, bore, roughness : float or array (points,)
        Length L, bore D and roughness of the line, m.
    loss_coefficient, laminar_loss_coefficient : float or array (points,)
        Sums of K and K1 of the fittings, dimensionless.
    density, kinematic_viscosity : float or array (points,)
        Properties of the liquid, kg/m3 and m2/s.

    Returns
    -------
    LineCoefficients

    Examples
    --------
    >>> c = line_coefficients(3.0, 0.008, 1.5e-6, 0.0, 0.0, 740.0, 0.6e-6)
    >>> round(1e-6 * c.reynolds_per_flow, 2)  # Re of 1 mL/s
    265.26
    """
    pressure_at_unit_reynolds = 0.5 * density * (kinematic_viscosity / bore) ** 2
    return LineCoefficients(
        4.0 / (pi * bore * kinematic_viscosity),
        roughness / bore,
        pressure_at_unit_reynolds * length / bore,
        pressure_at_unit_reynolds * loss_coefficient,
        pressure_at_unit_reynolds * laminar_loss_coefficient,
    )


def line_loss(flow: LinkArray, c: LineCoefficients) -> tuple[LinkArray, LinkArray]:
    """Return the loss of a line with fittings and its slope.

    With Re = |q| 4/(pi D nu) the loss is Re (f Re rho/2 (nu/D)^2 L/D + Re rho/2 (nu/D)^2 K + rho/2 (nu/D)^2 K1),
    odd in q.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q, m3/s.
    c : LineCoefficients

    Returns
    -------
    loss, slope : array (links, points)
        Pa and Pa s/m3.

    Examples
    --------
    The smooth 8 mm tube of 3 m at Re 1000 loses 50.0 Pa (64/Re, ``fluids``):

    >>> c = line_coefficients(3.0, 0.008, 1.5e-6, 0.0, 0.0, 740.0, 0.6e-6)
    >>> loss, _ = line_loss(np.array([1000.0 / c.reynolds_per_flow]), c)
    >>> loss.round(2).tolist()
    [49.95]
    """
    signed = flow * c.reynolds_per_flow
    reynolds = np.abs(signed)
    # loss = Re (f Re a + Re b + b1), of which the bracket is `loss` at first, and its slope in Re is the bracket plus
    # Re d(f Re)/dRe a + Re b; in place for speed.
    loss, slope = _friction_times_reynolds(reynolds, c.relative_roughness)
    loss *= c.friction_pressure
    slope *= c.friction_pressure
    fittings = reynolds * c.fitting_pressure
    loss += fittings
    loss += c.laminar_fitting_pressure
    slope += fittings
    slope += loss
    slope *= c.reynolds_per_flow
    loss *= signed
    return loss, slope


def line_resistance(flow: LinkArray, c: LineCoefficients) -> LinkArray:
    """Return the loss of a line with fittings over its flow, which at no flow is that of laminar flow.

    Parameters
    ----------
    flow : array (links, points)
        Volume flow q of either sign, m3/s.
    c : LineCoefficients

    Returns
    -------
    array (links, points)
        `line_loss` over q, Pa s/m3.

    Examples
    --------
    >>> c = line_coefficients(3.0, 0.008, 1.5e-6, 4.0, 0.0, 740.0, 0.6e-6)
    >>> flow = np.array([1e-7, 2e-5])
    >>> bool(np.allclose(line_resistance(flow, c) * flow, line_loss(flow, c)[0], rtol=1e-12))
    True
    """
    reynolds = np.abs(flow) * c.reynolds_per_flow
    product = np.full_like(reynolds, _LAMINAR)
    turbulent = reynolds > LAMINAR_LIMIT
    if turbulent.all():
        product = friction_factor(reynolds, c.relative_roughness) * reynolds
    elif turbulent.any():
        roughness = np.broadcast_to(c.relative_roughness, reynolds.shape)[turbulent]
        fast = reynolds[turbulent]
        product[turbulent] = friction_factor(fast, roughness) * fast
    resistance: LinkArray = c.reynolds_per_flow * (
        product * c.friction_pressure + reynolds * c.fitting_pressure + c.laminar_fitting_pressure
    )
    return resistance


def split_line_loss(
    flow: PointArray, loss: PointArray, slope: PointArray, merged: LineCoefficients, own: LineCoefficients
) -> tuple[PointArray, PointArray]:
    """Return the loss and slope of one of several lines in series that were merged into one.

    Friction is divided by length; the line's own fittings are added, and the same part of all fittings is subtracted.

    Parameters
    ----------
    flow, loss, slope : array (points,)
        Flow, loss and slope of the merged line, m3/s, Pa and Pa s/m3.
    merged, own : LineCoefficients
        Coefficients of the merged line and of the one line.

    Returns
    -------
    loss, slope : array (points,)
        Those of the one line, Pa and Pa s/m3.

    Examples
    --------
    >>> one = line_coefficients(1.0, 0.008, 0.0, 2.0, 0.0, 740.0, 6e-7)
    >>> other = line_coefficients(3.0, 0.008, 0.0, 0.0, 0.0, 740.0, 6e-7)
    >>> both = one._replace(friction_pressure=one.friction_pressure + other.friction_pressure)
    >>> flow = np.array([5e-5])
    >>> bool(np.allclose(split_line_loss(flow, *line_loss(flow, both), both, one), line_loss(flow, one)))
    True
    """
    length_share = own.friction_pressure / merged.friction_pressure
    signed = flow * merged.reynolds_per_flow
    reynolds = np.abs(signed)
    more = own.fitting_pressure - length_share * merged.fitting_pressure
    more_laminar = own.laminar_fitting_pressure - length_share * merged.laminar_fitting_pressure
    return (
        length_share * loss + signed * (more * reynolds + more_laminar),
        length_share * slope + merged.reynolds_per_flow * (2.0 * more * reynolds + more_laminar),
    )


def _typical_flow(c: LineCoefficients) -> LinkArray:
    return np.asarray(_TYPICAL_REYNOLDS / c.reynolds_per_flow)


def _sample() -> tuple[LawSample, ...]:
    """Return smooth, rough and fitted lines of 8 mm, from Re 1 to 1e6 both ways and around the ends of the blend."""
    lines = (
        line_coefficients(1.0, 0.008, roughness, fittings, laminar_fittings, 740.0, 0.6e-6)
        for roughness, fittings, laminar_fittings in ((0.0, 0.0, 0.0), (1.5e-6, 3.0, 800.0), (4e-4, 50.0, 0.0))
    )
    return tuple(
        LawSample(line, flows_both_ways(1.0, 1e6, LAMINAR_LIMIT, -TURBULENT_LIMIT) / line.reynolds_per_flow)
        for line in lines
    )


LINE = LinkLaw(
    name="line",
    coefficients=LineCoefficients,
    series=("friction_pressure", "fitting_pressure", "laminar_fitting_pressure"),
    split=split_line_loss,
    loss=line_loss,
    typical_flow=_typical_flow,
    sample=_sample,
)
