"""Bands: how far a figure may be off."""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["Band"]


class Band(NamedTuple):
    """A figure that is not known better than by its low, middle and high value.

    Attributes
    ----------
    low, middle, high : float
        SI; the middle is used where only one is wanted.
    """

    low: float
    middle: float
    high: float
