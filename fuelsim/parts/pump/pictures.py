"""How a pump draws itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from fuelsim import opener
from fuelsim.arguments import ENGINE_SPEED, LOAD, takes
from fuelsim.typing import PlotAxes, Quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["PumpPictures"]


class PumpPictures:
    """A pump that draws its curve, alone or in a system."""

    @takes({"rpm": ENGINE_SPEED, "load": LOAD})
    def plot(
        self,
        system: opener.System | None = None,
        *,
        rpm: Quantity | None = None,
        load: Quantity = 1.0,
        ax: PlotAxes | None = None,
    ) -> Figure:
        """Draw pressure over flow at two voltages, and in a system the system curve and the operating point.

        Parameters
        ----------
        system : System, optional
            A car with this pump.
        rpm : float or str, optional
            Engine speed, rpm; left out, that of the greatest power.
        load : float or str
            Load of the engine, a fraction from 0 to 1.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            For a system with another pump.

        Notes
        -----
        The system curve is what the rest of the car asks of the pump: where it works as the supply's voltage changes.

        Examples
        --------
        >>> from fuelsim.parts.pump.pump import Pump
        >>> Pump.named("in_tank_220").plot().axes[0].get_xlabel()
        'flow, L/h'
        """
        return opener.pump_figure(cast("opener.Pump", self), system, rpm, load, ax)
