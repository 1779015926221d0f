"""How the pressures of a network swing with a small pulsating draw, over its frequency."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.shown import Shown
from fuelsim.typing import FloatArray, PlotAxes, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["FrequencyResponse"]


@dataclass(frozen=True)
class FrequencyResponse(Shown):
    """Swing of the pressures over the swing of the volume drawn at one node.

    Attributes
    ----------
    frequency : array (frequencies,)
        Frequency of the draw, Hz.
    node : str
        Where it is drawn.
    amplitude : mapping of str to array (frequencies,)
        Amplitude of each node's pressure over that of the draw, Pa s/m3.
    phase : mapping of str to array (frequencies,)
        Angle by which each pressure is ahead of the draw, rad.
    """

    frequency: FloatArray
    node: str
    amplitude: Mapping[str, FloatArray]
    phase: Mapping[str, FloatArray]

    @takes()
    def resonances(self, node: str | None = None) -> FloatArray:
        """Return the frequencies at which a node swings more than at the neighbouring ones.

        Parameters
        ----------
        node : str, optional
            The node drawn at, if left out.

        Returns
        -------
        array (resonances,)
            Rising, to the spacing of the frequencies, Hz.
        """
        height = self.amplitude[self.node if node is None else node]
        top = np.flatnonzero((height[1:-1] > height[:-2]) & (height[1:-1] >= height[2:])) + 1
        return self.frequency[top]

    @property
    def headline(self) -> str:
        """Return where it resonates."""
        found = self.resonances()
        ends = f"{self.frequency[0]:.4g} to {self.frequency[-1]:.4g} Hz"
        if not len(found):
            return f"no resonance at {self.node} from {ends}"
        heights = self.amplitude[self.node][np.isin(self.frequency, found)]
        first = ", ".join(f"{value:.4g}" for value in found[:5])
        more = f" and {len(found) - 5} more" if len(found) > 5 else ""
        return f"resonances at {self.node} from {ends}: {first}{more} Hz, strongest at {found[heights.argmax()]:.4g} Hz"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per frequency, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.response_table(self, units)

    @takes()
    def plot(self, stations: Sequence[str] | None = None, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the amplitudes against frequency.

        Parameters
        ----------
        stations : list of str, optional
            Nodes to draw; up to five that swing most, if left out.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            For an unknown node.
        """
        return opener.response_figure(self, stations, ax)
