"""Least and greatest of values of which some are not known."""

from __future__ import annotations

import numpy as np

from fuelsim.typing import FloatLike

__all__ = ["greatest", "least"]


def greatest(values: FloatLike | None) -> float:
    """Return the greatest value, leaving out NaN.

    Parameters
    ----------
    values : float, array of any shape or None
        In any unit; None where a quantity does not apply.

    Returns
    -------
    float
        In the same unit; NaN where no value is known.

    Examples
    --------
    >>> import numpy as np
    >>> greatest(np.array([2.0, np.nan, 5.0])), greatest(None)
    (5.0, nan)
    """
    known = np.asarray(np.nan if values is None else values, dtype=float)
    known = known[~np.isnan(known)]
    return float(known.max()) if known.size else np.nan


def least(values: FloatLike | None) -> float:
    """Return the least value, leaving out NaN.

    Parameters
    ----------
    values : float, array of any shape or None
        In any unit; None where a quantity does not apply.

    Returns
    -------
    float
        In the same unit; NaN where no value is known.

    Examples
    --------
    >>> import numpy as np
    >>> least(np.array([2.0, np.nan, 5.0]))
    2.0
    """
    return np.nan if values is None else -greatest(-np.asarray(values, dtype=float))
