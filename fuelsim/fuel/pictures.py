"""How a fuel draws itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, cast

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.typing import PlotAxes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["FuelPictures"]


class FuelPictures:
    """A fuel that draws itself, alone or beside others."""

    @takes()
    def plot(
        self,
        *others: opener.Fuel,
        what: Literal[
            "vapour pressure", "vapour-liquid ratio", "distillation", "boiling tank", "alcohol"
        ] = "vapour pressure",
        ax: PlotAxes | None = None,
    ) -> Figure:
        """Draw one of the curves of this fuel, beside those of others.

        Parameters
        ----------
        *others : Fuel
            Further fuels, a line each.
        what : str
            ``"vapour pressure"`` over temperature, ``"vapour-liquid ratio"`` over temperature at one atmosphere,
            ``"distillation"``, ``"boiling tank"``: the temperature at which a vented tank boils, over altitude, or
            ``"alcohol"``: vapour pressure over the share of ethanol or methanol blended in.
        ax : Axes, optional
            Axes of your own; the vapour-liquid ratios have two panels and take none.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            For an unknown curve.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> Fuel.named("summer_e0").plot(Fuel.named("summer_e10"), what="distillation").axes[0].get_xlabel()
        'evaporated, vol%'
        """
        return opener.fuel_figure([cast("opener.Fuel", self), *others], what, ax)
