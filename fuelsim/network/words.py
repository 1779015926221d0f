"""Parts in words, for tables and drawings."""

from __future__ import annotations

from typing import Any

import numpy as np

from fuelsim import units
from fuelsim.fields import Declaration, Ratings, declarations

__all__ = ["ratings_in_words"]


def ratings_in_words(part: Ratings) -> str:
    """Return the ratings of a part that differ from their default, with units.

    Examples
    --------
    >>> from fuelsim.parts.line import Line
    >>> ratings_in_words(Line(length="3 m", bore="8 mm"))
    'length 3 m, bore 8 mm'
    """
    said = []
    for name, declaration in declarations(type(part)).items():
        value = getattr(part, name)
        if value is None or (declaration.given and np.array_equal(value, declaration.default)):
            continue
        said.append(f"{name.replace('_', ' ')} {_in_words(value, declaration)}")
    return ", ".join(said)


def _in_words(value: Any, declaration: Declaration) -> str:
    if isinstance(value, Ratings):
        return f"{type(value).__name__}({ratings_in_words(value)})"
    if declaration.form not in ("quantity", "series"):
        return str(value)
    if np.ndim(value) == 0:
        return units.shown(float(value), declaration.kind)
    low, high = (units.shown(float(limit), declaration.kind) for limit in (np.min(value), np.max(value)))
    return f"{low} to {high} ({np.size(value)} values)"
