"""Checks of ratings given as lists over operating points."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fields import Ratings

__all__ = ["require_one_batch", "require_single"]


def require_single(ratings: Ratings, keys: Iterable[str]) -> None:
    """Raise an error where a rating that must be one value is a list.

    Parameters
    ----------
    ratings : Ratings
        Part to be checked.
    keys : iterable of str
        Names of the ratings that must be one value.

    Raises
    ------
    InputError
        For the first list, with its key.

    Examples
    --------
    >>> from fuelsim.parts.filter import Filter
    >>> require_single(Filter(clogging=[1.0, 2.0]), ["clogging"])
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: key 'clogging': a list, where one value is wanted; given [1.0, 2.0]; accepted: one value
    """
    for key in keys:
        value = getattr(ratings, key)
        if value is not None and np.ndim(value) > 0:
            raise InputError(
                "a list, where one value is wanted", given=np.asarray(value).tolist(), accepted="one value", key=key
            )


def require_one_batch(ratings: Ratings, keys: Iterable[str]) -> None:
    """Raise an error where lists over operating points are of different lengths.

    Parameters
    ----------
    ratings : Ratings
        Part to be checked.
    keys : iterable of str
        Names of the ratings that may be lists.

    Raises
    ------
    InputError
        For the first list whose length differs, with its key.

    Examples
    --------
    >>> from fuelsim.parts.filter import Filter
    >>> Filter(clogging=[1.0, 2.0], rated_drop=[8e3, 9e3, 1e4])
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: part 'Filter', key 'clogging': 2 values, but 3 for rated_drop; ...
    """
    first: tuple[str, int] | None = None
    for key in keys:
        value = getattr(ratings, key)
        if value is None or np.ndim(value) == 0:
            continue
        length = np.shape(value)[-1]
        if np.ndim(value) > 1:
            raise InputError("not a list of values", given=np.asarray(value).tolist(), accepted="one row", key=key)
        if first is not None and length not in (1, first[1]) and first[1] != 1:
            raise InputError(
                f"{length} values, but {first[1]} for {first[0]}",
                given=np.asarray(value).tolist(),
                accepted=f"one value or {first[1]}",
                key=key,
            )
        if first is None or first[1] == 1:
            first = (key, length)
