"""Where the text of a picture lands: texts on one another, and texts that run out of the figure."""

from __future__ import annotations

from itertools import combinations
from unittest.mock import patch

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

TOUCH = 1.5
"""Pixels by which two boxes may overlap: the boxes of texts are a little larger than their letters."""


def text_boxes(fig):
    """Return all texts that are drawn, each with its box in pixels."""
    canvas = fig.canvas if isinstance(fig.canvas, FigureCanvasAgg) else FigureCanvasAgg(fig)
    canvas.draw()
    drawn = []
    plain = Text.draw

    def noting(self, renderer):
        if self.get_visible() and self.get_text().strip() and self not in drawn:
            drawn.append(self)
        plain(self, renderer)

    with patch.object(Text, "draw", noting):
        canvas.draw()
    return [(text, text.get_window_extent(canvas.get_renderer())) for text in drawn]


def text_faults(fig):
    """Return in words which texts of a picture lie on one another or outside it."""
    boxes = text_boxes(fig)
    outside = [
        f"outside: {text.get_text()!r}"
        for text, box in boxes
        if box.x0 < -1.0 or box.y0 < -1.0 or box.x1 > fig.bbox.width + 1.0 or box.y1 > fig.bbox.height + 1.0
    ]
    on_another = [
        f"on one another: {one.get_text()!r}, {other.get_text()!r}"
        for (one, first), (other, second) in combinations(boxes, 2)
        # A label that runs along a contour has a box much wider than itself.
        if one.get_rotation() % 90.0 == 0.0
        and other.get_rotation() % 90.0 == 0.0
        and min(first.x1, second.x1) - max(first.x0, second.x0) > TOUCH
        and min(first.y1, second.y1) - max(first.y0, second.y0) > TOUCH
    ]
    return outside + on_another
