"""One style for all figures: readable in print, on a phone and without colour."""

from __future__ import annotations

import re
import textwrap
import warnings
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "LINE_STYLES",
    "DrawStyle",
    "boiling_band",
    "caption",
    "figure",
    "label_panel",
    "legend",
    "line_style",
    "png_bytes",
]

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
_WITHOUT_LABEL = re.compile(r"_child\d+|_nolegend_|")
"""Labels that the library of figures gives to what has none."""
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

    It shows itself in a notebook, whether or not pyplot has been imported there. All text in it is drawn as it is
    written: a name with `$`, `_`, `^` or a backslash is never read as a formula.

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
    from matplotlib.backend_bases import RendererBase
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    class ShownFigure(Figure):
        def _repr_png_(self) -> bytes:
            return png_bytes(self)

        def draw(self, renderer: RendererBase) -> None:
            for text in self.findobj(Text):
                if isinstance(text, Text):
                    text.set_parse_math(False)
                    text.set_usetex(False)
            # Labels of ticks are made while the figure is drawn.
            with _plain_text(), warnings.catch_warnings():
                # A character that the font lacks is drawn as a box.
                warnings.filterwarnings("ignore", message="Glyph ")
                super().draw(renderer)

    with _plain_text():
        fig = ShownFigure(figsize=(width * columns, height * rows + 0.5), layout="constrained")
        FigureCanvasAgg(fig)
        axes = fig.subplots(rows, columns, squeeze=False)
    for axis in axes.flat:
        _tidy(axis)
    return fig, axes


def _plain_text() -> AbstractContextManager[None]:
    """Return settings under which text is text, whatever those of the user are."""
    from matplotlib import rc_context

    return rc_context({"text.parse_math": False, "text.usetex": False, "axes.formatter.use_mathtext": False})


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


def legend(axis: Axes, loc: str = "best", *, anchor: tuple[float, float] | None = None, fontsize: float = 8.0) -> None:
    """Explain the lines of a panel, also those whose label begins with an underscore, which are left out otherwise.

    Parameters
    ----------
    axis : Axes
        The panel, with a label on each of its lines that has a name.
    loc : str
        Place in the panel, or which side of it touches `anchor`.
    anchor : tuple of float, optional
        Point outside or inside, as fractions of the panel.
    fontsize : float
        Size of the text, pt.
    """
    handles, labels = axis.get_legend_handles_labels()
    hidden = [line for line in axis.get_lines() if str(line.get_label()).startswith("_")]
    for line in hidden:
        if not _WITHOUT_LABEL.fullmatch(str(line.get_label())):
            handles.append(line)
            labels.append(str(line.get_label()))
    style: DrawStyle = {"frameon": False, "fontsize": fontsize, "loc": loc, "bbox_to_anchor": anchor}
    drawn = axis.legend(handles, [str(number) for number in range(len(labels))], **style)
    for text, label in zip(drawn.get_texts(), labels, strict=True):
        text.set_text(label)


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
