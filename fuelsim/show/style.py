"""One style for all figures: readable in print, on a phone and without colour."""

from __future__ import annotations

import re
import textwrap
import warnings
from collections.abc import Iterable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fuelsim.errors import InputError
from fuelsim.typing import ArrayLike, FloatArray, PlotAxes

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

__all__ = [
    "LINE_STYLES",
    "DrawStyle",
    "boiling_band",
    "caption",
    "end_mark",
    "figure",
    "label_panel",
    "legend",
    "legend_below",
    "level",
    "line_style",
    "panel",
    "png_bytes",
    "show_sag",
    "tell_coinciding",
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
LEGEND_CHARACTERS_PER_INCH = 14.0
"""Length of the entries of a legend, in letters of 8 pt, over the width of its figure."""
MARKER_SIGNS = {"o": "●", "s": "■", "^": "▲", "D": "◆", "v": "▼", "P": "✚", "x": "×"}
"""Markers of the lines as signs in a text."""
COINCIDENT = 0.004
"""Greatest distance of lines that a reader cannot tell apart, over the height of the panel."""
LEAST_SPAN = 0.08
"""Least span of a pressure axis over the pressure that it is about, so that a sag of nothing does not look like one."""


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
    >>> line_style(0, points=80)["markevery"], line_style(1, points=80)["markevery"]
    ((0, 10), (3, 10))
    """
    style = LINE_STYLES[index % len(LINE_STYLES)]
    every = max(1, points // 8)
    # Markers of lines that lie on one another are at different points, so that all are seen.
    return style | {"linewidth": 1.8, "markersize": 5, "markevery": (index * every * 3 // 10 % every, every)}


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


def panel(ax: PlotAxes | None, *, width: float = 7.2, height: float = 4.2) -> tuple[Figure, Axes]:
    """Return the axes of a picture of one panel, the user's own if given, and their figure.

    Parameters
    ----------
    ax : Axes or None
        Axes of the user's own.
    width, height : float
        Size of a figure of its own, in.

    Raises
    ------
    InputError
        For anything but axes of matplotlib.
    """
    if ax is None:
        fig, axes = figure(width=width, height=height)
        own: Axes = axes[0, 0]
        return fig, own
    from matplotlib.axes import Axes as AnyAxes
    from matplotlib.figure import Figure as AnyFigure

    whole = ax.get_figure() if isinstance(ax, AnyAxes) else None
    while whole is not None and not isinstance(whole, AnyFigure):
        whole = whole.figure  # a part of a figure
    if whole is None or not isinstance(ax, AnyAxes):
        raise InputError("no axes of a figure", given=ax, accepted="fig, ax = plt.subplots()", key="ax")
    _tidy(ax)
    return whole, ax


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
    handles, labels = _entries(axis)
    style: DrawStyle = {"frameon": False, "fontsize": fontsize, "loc": loc, "bbox_to_anchor": anchor}
    drawn = axis.legend(handles, [str(number) for number in range(len(labels))], **style)
    for text, label in zip(drawn.get_texts(), labels, strict=True):
        text.set_text(label)


def legend_below(fig: Figure, axis: Axes, *, fontsize: float = 8.0) -> None:
    """Explain the lines of all panels below them, in as many columns as there is room for.

    Parameters
    ----------
    fig : Figure
        The figure.
    axis : Axes
        The panel whose lines have the labels.
    fontsize : float
        Size of the text, pt.
    """
    handles, labels = _entries(axis)
    if not labels:
        return
    longest = 6 + max(len(label) for label in labels)
    columns = max(1, int(fig.get_figwidth() * LEGEND_CHARACTERS_PER_INCH * 8.0 / fontsize / longest))
    style: DrawStyle = {"frameon": False, "fontsize": fontsize, "loc": "outside lower left"}
    names = [str(number) for number in range(len(labels))]
    drawn = fig.legend(handles, names, ncols=min(columns, len(labels)), **style)
    for text, label in zip(drawn.get_texts(), labels, strict=True):
        text.set_text(label)


def _entries(axis: Axes) -> tuple[list[Artist], list[str]]:
    """Return what a legend explains: all that has a name, each name once."""
    handles, labels = axis.get_legend_handles_labels()
    found = list(zip(handles, (str(label) for label in labels), strict=True))
    found += [(line, str(line.get_label())) for line in axis.get_lines() if str(line.get_label()).startswith("_")]
    entries: dict[str, Artist] = {}
    for handle, label in found:
        if not _WITHOUT_LABEL.fullmatch(label):
            entries.setdefault(label, handle)
    return list(entries.values()), list(entries)


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


def tell_coinciding(panels: Iterable[Axes]) -> None:
    """Say above each panel which of its lines lie on one another, as in "● and ▲ coincide", and widen the lower ones.

    Parameters
    ----------
    panels : iterable of Axes
        Panels with all their lines, titles and ends of axes.
    """
    for axis in panels:
        if told := _coinciding(axis):
            title = axis.get_title(loc="left")
            axis.set_title(f"{title}\n{told}" if title else told, fontsize=10 if title else 9, loc="left")


def _coinciding(axis: Axes) -> str:
    """Return which lines of a panel lie on one another, by the signs of their markers or else their names."""
    low, high = axis.get_ylim()
    names = {line: _sign_or_name(line) for line in axis.get_lines()}
    lines = [line for line, name in names.items() if name]
    groups: list[list[Line2D]] = []
    for line in lines:
        same = next((group for group in groups if _coincide(group[0], line, COINCIDENT * abs(high - low))), None)
        if same is None:
            groups.append([line])
        else:
            same.append(line)
    groups = [group for group in groups if len(group) > 1]
    for group in groups:
        for above, line in enumerate(reversed(group)):
            line.set_linewidth(line.get_linewidth() + 1.8 * above)
            line.set_markersize(line.get_markersize() + 3.0 * above)
    told = [" and ".join(names[line] for line in group) for group in groups]
    return f"{'; '.join(told)} coincide" if told else ""


def _sign_or_name(line: Line2D) -> str:
    """Return the marker of a line as a sign, or its name in the legend; empty for points, limits and unnamed lines."""
    name = "" if _WITHOUT_LABEL.fullmatch(str(line.get_label())) else f"“{line.get_label()}”"
    if line.get_linestyle() == "None" or len(np.atleast_1d(line.get_xdata())) < 3:
        return ""
    return MARKER_SIGNS.get(str(line.get_marker()), name)


def _coincide(first: Line2D, second: Line2D, within: float) -> bool:
    """Return whether two lines over the same points are nowhere further apart than a distance along y."""
    (x, y), (other_x, other_y) = (
        (np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float))
        for line in (first, second)
    )
    if not np.array_equal(x, other_x) or not np.array_equal(np.isnan(y), np.isnan(other_y)) or np.isnan(y).all():
        return False
    return bool(np.nanmax(np.abs(y - other_y)) <= within)


def end_mark(axis: Axes, x: ArrayLike, y: ArrayLike, label: str = "") -> bool:
    """Mark with a cross the points from which a line does not go on, and return whether there are any.

    Parameters
    ----------
    axis : Axes
        The panel.
    x, y : array (points,)
        The line; NaN where it is not drawn.
    label : str
        What the crosses mean, for the legend.
    """
    across, along = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    ends = np.flatnonzero(np.isfinite(along[:-1]) & np.isnan(along[1:]))
    if not len(ends):
        return False
    cross: DrawStyle = {"marker": "X", "markersize": 8, "linestyle": "none", "color": "black", "zorder": 4}
    axis.plot(across[ends], along[ends], label=label, **cross)
    return True


def level(axis: Axes, value: float, words: str, *, at: float = 0.99) -> None:
    """Draw a limit across a panel with its words on it.

    Parameters
    ----------
    axis : Axes
        The panel.
    value : float
        Where on the y axis.
    words : str
        What it is.
    at : float
        Where the words end, over the width of the panel.
    """
    axis.axhline(value, color="black", linewidth=1.2, zorder=1.5, **DOTTED)
    where: DrawStyle = {"xycoords": ("axes fraction", "data"), "textcoords": "offset points", "xytext": (0, 2)}
    axis.annotate(words, (at, value), ha="right", va="bottom", fontsize=8, **where)


def show_sag(axis: Axes, *levels: ArrayLike) -> None:
    """End a pressure axis near what is drawn, so that a sag is seen, and not at zero.

    Parameters
    ----------
    axis : Axes
        The panel, with its lines.
    levels : float or array
        Pressures that must be seen too, such as the set pressure.
    """
    drawn = [np.ravel(np.asarray(line.get_ydata(), dtype=float)) for line in axis.get_lines()]
    values: FloatArray = np.concatenate([*drawn, *(np.ravel(np.asarray(each, dtype=float)) for each in levels)])
    values = values[np.isfinite(values)]
    if not values.size:
        return
    low, high = float(values.min()), float(values.max())
    span = max(1.25 * (high - low), LEAST_SPAN * abs(high))
    middle = 0.5 * (low + high)
    axis.set_ylim(max(middle - 0.5 * span, 0.0) if low >= 0.0 else middle - 0.5 * span, middle + 0.5 * span)


def caption(fig: Figure, sentence: str, ax: PlotAxes | None = None) -> None:
    """Put a sentence that says what is seen above a figure; no line ends between a number and its unit.

    Parameters
    ----------
    fig : Figure
        The figure.
    sentence : str
        One or two sentences made from the numbers drawn.
    ax : Axes, optional
        Axes of the user's own, which then carry the sentence as their title.
    """
    sentence = sentence[:1].upper() + sentence[1:]
    width = fig.get_figwidth()
    if ax is None:
        fig.suptitle(_wrapped(sentence, int(width * CHARACTERS_PER_INCH)), fontsize=11, x=0.01, ha="left")
        return
    from matplotlib.axes import Axes
    from matplotlib.text import Text

    if isinstance(ax, Axes):
        width *= ax.get_position().width
        ax.set_title(_wrapped(sentence, int(1.2 * width * CHARACTERS_PER_INCH)), fontsize=9, loc="left")
        for text in ax.findobj(Text):
            if isinstance(text, Text):
                text.set_parse_math(False)


def _wrapped(sentence: str, characters: int) -> str:
    together = re.sub(r"(?<=\d) ", "\N{NO-BREAK SPACE}", sentence)
    return "\n".join(textwrap.wrap(together, max(characters, 20))).replace("\N{NO-BREAK SPACE}", " ")


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
