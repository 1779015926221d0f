"""One style for all figures: readable in print, on a phone and without colour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["LINE_STYLES", "caption", "figure", "line_style", "png_bytes"]

# Okabe & Ito's palette (Color Universal Design, 2008), each with a dash pattern and a marker of its own.
LINE_STYLES: tuple[dict[str, Any], ...] = (
    {"color": "#0072B2", "linestyle": "-", "marker": "o"},
    {"color": "#D55E00", "linestyle": "--", "marker": "s"},
    {"color": "#009E73", "linestyle": "-.", "marker": "^"},
    {"color": "#CC79A7", "linestyle": ":", "marker": "D"},
    {"color": "#E69F00", "linestyle": (0, (5, 1)), "marker": "v"},
    {"color": "#56B4E9", "linestyle": (0, (3, 1, 1, 1)), "marker": "P"},
    {"color": "#000000", "linestyle": (0, (1, 1)), "marker": "x"},
)


def line_style(index: int, points: int = 0) -> dict[str, Any]:
    """Return the look of the line with a number: colour, dashes and a marker at about eight places.

    Examples
    --------
    >>> line_style(0, points=80)["markevery"]
    10
    """
    style = dict(LINE_STYLES[index % len(LINE_STYLES)])
    return style | {"linewidth": 1.8, "markersize": 5, "markevery": max(1, points // 8)}


def figure(rows: int = 1, columns: int = 1, *, width: float = 5.4, height: float = 3.7) -> tuple[Figure, Any]:
    """Return a figure without any global plotting state, and its axes as an array (rows, columns).

    It shows itself in a notebook, whether or not pyplot has been imported there.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    class ShownFigure(Figure):
        def _repr_png_(self) -> bytes:
            return png_bytes(self)

    drawn = ShownFigure(figsize=(width * columns, height * rows + 0.5), layout="constrained")
    FigureCanvasAgg(drawn)
    axes = drawn.subplots(rows, columns, squeeze=False)
    for axis in axes.flat:
        tidy(axis)
    return drawn, axes


def tidy(axis: Axes) -> None:
    """Give axes the common look: light grid, no frame at top and right."""
    axis.grid(True, color="#dddddd", linewidth=0.7)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)


def caption(drawn: Figure, sentence: str) -> None:
    """Put a sentence that says what is seen above the figure; no line ends between a number and its unit."""
    import re
    import textwrap

    characters = int(drawn.get_figwidth() * 11.5)
    together = re.sub(r"(?<=\d) ", "\N{NO-BREAK SPACE}", sentence)
    lines = "\n".join(textwrap.wrap(together, characters)).replace("\N{NO-BREAK SPACE}", " ")
    drawn.suptitle(lines, fontsize=11, x=0.01, ha="left")


def png_bytes(drawn: Figure, dots_per_inch: int = 130) -> bytes:
    """Return a figure as a PNG file's content."""
    from io import BytesIO

    buffer = BytesIO()
    drawn.savefig(buffer, format="png", dpi=dots_per_inch)
    return buffer.getvalue()
