"""Flow of a pump with vapour at its inlet: an assumed form, and a measured table."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatArray, FloatLike

__all__ = ["measured_tolerance", "measured_vapour_flow_factor", "vapour_flow_factor"]

COLLAPSED = 0.9
"""Flow over that of a pump that displaces the same volume, 1/(1 + V/L), from which a measured flow counts as
collapsing [assumed]; the assumed form has it at 1.33 of its tolerated ratio."""


def vapour_flow_factor(vapour_liquid_ratio: FloatLike, tolerance: FloatLike) -> FloatArray:
    """Return the liquid flow of a pump with vapour at its inlet over that without.

    The pump displaces the same volume, of which the liquid is 1/(1 + x); beyond the tolerated ratio x_t the flow
    collapses, here as 1/(1 + ((x - x_t)/x_t)^2), a form that is smooth [assumed] and halves the flow at twice the
    tolerance.

    Parameters
    ----------
    vapour_liquid_ratio : float or array
        Volume x of vapour per volume of liquid at the inlet; negative values count as zero.
    tolerance : float or array
        Tolerated ratio x_t: 1-3 for turbines with a vapour bleed, 0.3-1 for roller and gear [memory], low
        confidence.

    Returns
    -------
    array
        From 1 down to 0.

    Examples
    --------
    >>> vapour_flow_factor(np.array([0.0, 1.0, 4.0]), 2.0).tolist()
    [1.0, 0.5, 0.1]
    """
    ratio = np.maximum(np.asarray(vapour_liquid_ratio, dtype=float), 0.0)
    past = np.maximum(ratio / tolerance - 1.0, 0.0)
    factor: FloatArray = 1.0 / ((1.0 + ratio) * (1.0 + past * past))
    return factor


def measured_vapour_flow_factor(vapour_liquid_ratio: FloatLike, ratios: FloatArray, factors: FloatArray) -> FloatArray:
    """Return the liquid flow of a pump with vapour at its inlet over that without, from a measured table.

    Between rows ln(factor) is linear in ln(1 + x), so that a pump that displaces the same volume, 1/(1 + x), is met
    exactly by any two rows. Beyond the last row it falls as 1/(1 + x).

    Parameters
    ----------
    vapour_liquid_ratio : float or array
        Volume x of vapour per volume of liquid at the inlet; negative values count as zero.
    ratios : array (rows,)
        Ratios x of the table, rising; the row 0 with the factor 1 may be left out.
    factors : array (rows,)
        Liquid flow over that without vapour, falling, above 0.

    Returns
    -------
    array
        From 1 down, above 0.

    Examples
    --------
    >>> measured_vapour_flow_factor(np.array([0.0, 1.0, 3.0]), np.array([1.0]), np.array([0.5])).tolist()
    [1.0, 0.5, 0.25]
    """
    widths, logarithms = _rows(ratios, factors)
    width = np.log1p(np.maximum(np.asarray(vapour_liquid_ratio, dtype=float), 0.0))
    beyond = np.maximum(width - widths[-1], 0.0)
    factor: FloatArray = np.exp(np.interp(width, widths, logarithms) - beyond)
    return factor


def measured_tolerance(ratios: FloatArray, factors: FloatArray) -> float:
    """Return the ratio of vapour to liquid at which a measured flow begins to collapse.

    There it is `COLLAPSED` of what a pump that displaces the same volume would deliver, 1/(1 + x).

    Parameters
    ----------
    ratios, factors : array (rows,)
        As `measured_vapour_flow_factor`.

    Returns
    -------
    float
        The last ratio of the table where the flow does not collapse within it.

    Examples
    --------
    >>> round(measured_tolerance(np.array([1.0, 2.0]), np.array([0.5, 0.1])), 3)
    1.072
    """
    widths, logarithms = _rows(ratios, factors)
    beside_displacement = logarithms + widths - np.log(COLLAPSED)
    below = np.flatnonzero(beside_displacement < 0.0)
    if not below.size:
        return float(np.expm1(widths[-1]))
    after = below[0]
    before = after - 1
    reached = beside_displacement[before] / (beside_displacement[before] - beside_displacement[after])
    return float(np.expm1(widths[before] + reached * (widths[after] - widths[before])))


def _rows(ratios: FloatArray, factors: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return ln(1 + x) and ln(factor) of the rows, the row without vapour first."""
    above = ratios > 0.0
    return np.append(0.0, np.log1p(ratios[above])), np.append(0.0, np.log(factors[above]))
