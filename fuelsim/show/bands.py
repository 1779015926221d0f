"""Bands of answers as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.bands import Banded
    from fuelsim.typing import FloatLike

__all__ = ["band_table"]


def band_table(result: Banded, units: str | None = None) -> pd.DataFrame:
    """Return one row per input with its band and the answer at its ends; values carry their units.

    Parameters
    ----------
    result : Banded
        The answer with its band; the first of several answers is shown.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    def told(value: FloatLike) -> str:
        return result.shown(float(np.ravel(value)[0]), units=units)

    rows = [
        {
            "input": item.name,
            **{end: shown(value, item.kind, units, digits=3) for end, value in item.band._asdict().items()},
            "at_low": told(at_low),
            "at_high": told(at_high),
            "source": item.source,
        }
        for item, at_low, at_high in zip(result.inputs, result.at_low, result.at_high, strict=True)
    ]
    empty = {"low": "", "middle": "", "high": "", "source": ""}
    both = (("as it is", result.middle, result.middle), ("all together", result.low, result.high))
    rows += [{"input": name, **empty, "at_low": told(low), "at_high": told(high)} for name, low, high in both]
    return pd.DataFrame(rows)
