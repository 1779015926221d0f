"""Band of a result by the model of the activity coefficients: original UNIFAC beside modified (Dortmund) UNIFAC.

Neither model is measured petrol. Their difference is the least by which a result on a splash blend, a mixture or light
ends is unsure; both may lie on one side of a measurement.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from fuelsim.arguments import takes
from fuelsim.typing import FloatLike

__all__ = ["ModelBand", "model_band"]


class ModelBand(NamedTuple):
    """One result by both models, in the unit of the result.

    Attributes
    ----------
    unifac : float or array
        By original UNIFAC, the default of a fuel.
    dortmund : float or array
        By modified UNIFAC (Dortmund).
    """

    unifac: FloatLike
    dortmund: FloatLike

    @property
    def difference(self) -> FloatLike:
        """Result by modified UNIFAC less that by original UNIFAC."""
        return self.dortmund - self.unifac

    @property
    def low(self) -> FloatLike:
        """Lower of the two."""
        return _as_given(np.minimum(self.unifac, self.dortmund))

    @property
    def high(self) -> FloatLike:
        """Higher of the two."""
        return _as_given(np.maximum(self.unifac, self.dortmund))


def _as_given(value: FloatLike) -> FloatLike:
    return float(value) if np.ndim(value) == 0 else value


@takes()
def model_band(result: Callable[[str], FloatLike]) -> ModelBand:
    """Return a result by original and by modified (Dortmund) UNIFAC, and with them their difference.

    What stays equal between the two is for the caller to say. `Fuel.petrol` with the model given meets its vapour
    pressure by either, and the difference is that of blending, mixing or temperature; `Fuel.with_activity_model` keeps
    the composition, and the difference is that of a known mixture.

    Parameters
    ----------
    result : function
        Takes the name of a model, for an argument `activity_model`, and returns a number or an array.

    Returns
    -------
    ModelBand
        `unifac`, `dortmund`, `difference`, `low` and `high`.

    Examples
    --------
    Rise of the vapour pressure with 5 vol% ethanol in petrol of 60 kPa; the most that [directive_2009_30_ec] permits
    is 8.0 kPa:

    >>> from fuelsim.fuel.fuel import Fuel
    >>> def rise(model):
    ...     base = Fuel.petrol("60 kPa", activity_model=model)
    ...     return base.splash_blend(ethanol=0.05).dvpe() - base.dvpe()
    >>> band = model_band(rise)
    >>> 0.5e3 < band.difference < 1.5e3, band.high < 8.0e3
    (True, True)
    """
    return ModelBand(result("unifac"), result("dortmund"))
