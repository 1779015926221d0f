"""One style for all figures: readable in print, on a phone and without colour."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["LINE_STYLES", "DrawStyle", "boiling_band", "caption", "figure", "label_panel", "line_style", "png_bytes"]

DrawStyle: TypeAlias = dict[str, Any]
"""Keyword arguments of a drawing function of matplotlib, whose values are of any type."""
AxesGrid: TypeAlias = NDArray[np.object_]
"""Axes of matplotlib, (rows, columns)."""

LINE_STYLES: tuple[DrawStyle, ...] = (
    {"color": "#0072B2", "linestyle": "-", "marker": "o"},
    {"color": "#D55E00", "linestyle": "--", "marker": "s"},
    {"color": "#009E73", "linestyle": "-.", "marker": "^"},
    {"color": "#CC79A7", "linestyle": ":", "marker": "D"},
    {"color": "#E69F00", "linestyle": (0, (5, 1)), "marker": "v"},
    {"color": "#56B4E9", "linestyle": (0, (3, 1, 1, 1)), "marker": "P"},
    {"color": "#000000", "linestyle": (0, (1, 1)), "marker": "x"},
)
"""Palette of Okabe & Ito (Color Universal Design, 2008), each colour with a dash pattern and a marker of its own."""
DOTTED: DrawStyle = {"linestyle": (0, (1, 2))}
"""Dots for limits, so that they are told from the lines of results."""
BOILING_COLOUR = "#803010"
CHARACTERS_PER_INCH = 11.5
"""Length of a caption's line over the width of its figure."""


def line_style(index: int, points: int = 0) -> DrawStyle:
    """Return how the line with a number is drawn: colour, dashes and a marker at about eight of its points.

    Parameters
    ----------
    index : int
        Number of the line, from 0; the styles repeat after seven.
    points : int
        Number of its points.

    Examples
    --------
    >>> line_style(0, points=80)["markevery"]
    10
    """
    style = LINE_STYLES[index % len(LINE_STYLES)]
    return style | {"linewidth": 1.8, "markersize": 5, "markevery": max(1, points // 8)}


def figure(rows: int = 1, columns: int = 1, *, width: float = 5.4, height: float = 3.7) -> tuple[Figure, AxesGrid]:
    """Return a figure without any global plotting state, and its axes.

    It shows itself in a notebook, whether or not pyplot has been imported there.

    Parameters
    ----------
    rows, columns : int
        Number of panels down and across.
    width, height : float
        Size of one panel, in.

    Returns
    -------
    fig : Figure
        The figure.
    axes : array (rows, columns) of Axes
        Its panels.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    class ShownFigure(Figure):
        def _repr_png_(self) -> bytes:
            return png_bytes(self)

    fig = ShownFigure(figsize=(width * columns, height * rows + 0.5), layout="constrained")
    FigureCanvasAgg(fig)
    axes = fig.subplots(rows, columns, squeeze=False)
    for axis in axes.flat:
        _tidy(axis)
    return fig, axes


def _tidy(axis: Axes) -> None:
    """Give axes the common form: light grid, no frame at top and right."""
    axis.grid(True, color="#dddddd", linewidth=0.7)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)


def label_panel(axis: Axes, x_label: str, y_label: str, title: str = "") -> None:
    """Label a panel: what runs along each axis with its unit, and a title at its left if it has one.

    Parameters
    ----------
    axis : Axes
        The panel.
    x_label, y_label : str
        Quantity and unit along each axis.
    title : str
        Title, where a figure has several panels.
    """
    axis.set_xlabel(x_label)
    axis.set_ylabel(y_label)
    if title:
        axis.set_title(title, fontsize=10, loc="left")


def boiling_band(axis: Axes, low: float, high: float) -> None:
    """Hatch what is below a margin of zero, where fuel boils, and set the ends of the axis.

    Parameters
    ----------
    axis : Axes
        A panel whose y axis is a margin to boiling.
    low, high : float
        Ends of its y axis.
    """
    axis.set_ylim(low, high)
    axis.axhline(0.0, color="black", linewidth=1.0)
    axis.axhspan(low, 0.0, facecolor="#f3d9d0", edgecolor="#b08070", hatch="//", alpha=0.35)
    words: DrawStyle = {"fontsize": 9, "color": BOILING_COLOUR, "fontstyle": "italic", "va": "center"}
    axis.annotate("boils", (0.02, 0.6 * low), xycoords=("axes fraction", "data"), **words)


def caption(fig: Figure, sentence: str) -> None:
    """Put a sentence that says what is seen above a figure; no line ends between a number and its unit.

    Parameters
    ----------
    fig : Figure
        The figure.
    sentence : str
        One or two sentences made from the numbers drawn.
    """
    characters = int(fig.get_figwidth() * CHARACTERS_PER_INCH)
    together = re.sub(r"(?<=\d) ", "\N{NO-BREAK SPACE}", sentence)
    lines = "\n".join(textwrap.wrap(together, characters)).replace("\N{NO-BREAK SPACE}", " ")
    fig.suptitle(lines, fontsize=11, x=0.01, ha="left")


def png_bytes(fig: Figure, dots_per_inch: int = 130) -> bytes:
    """Return a figure as the content of a PNG file.

    Parameters
    ----------
    fig : Figure
        The figure.
    dots_per_inch : int
        Resolution.
    """
    from io import BytesIO

    buffer = BytesIO()
    fig.savefig(buffer, format="png", dpi=dots_per_inch)
    return buffer.getvalue()
