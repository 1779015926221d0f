"""The Pareto front: what nothing else betters in every wish at once."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["front"]


def front(wishes: Any) -> Any:
    """Return the members that no other betters in two wishes, sorted by the first; equal members count once.

    Parameters
    ----------
    wishes : array (2, members)
        To be made small; members with NaN are left out.

    Returns
    -------
    int array

    Examples
    --------
    >>> front([[1.0, 2.0, 3.0, 2.5], [9.0, 5.0, 1.0, 6.0]]).tolist()
    [0, 1, 2]
    """
    first, second = np.asarray(wishes, dtype=float)
    known = np.flatnonzero(np.isfinite(first) & np.isfinite(second))
    order = known[np.lexsort((second[known], first[known]))]
    if not order.size:
        return order
    lowest_before = np.minimum.accumulate(np.concatenate([[np.inf], second[order][:-1]]))
    return order[second[order] < lowest_before]
