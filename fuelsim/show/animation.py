"""Pictures that grow with time: line plots drawn up to a moment, for a class."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.arguments import takes
from fuelsim.errors import InputError
from fuelsim.output_files import write_files
from fuelsim.show.heat_curves import drive_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from fuelsim.transients.drive_results import Drive

__all__ = ["Animation", "drive_animation", "growing"]

FRAMES = 30
MILLISECONDS = 120
"""Time between frames."""
DOTS_PER_INCH = 80


class Animation:
    """A picture with lines that grow; it plays itself in a notebook, and is saved as GIF or HTML.

    Parameters
    ----------
    figure : Figure
        The whole picture.
    panels : iterable of Axes
        Those whose lines grow along x; others stand.
    moments : sequence of float
        Ends of x, one for each frame.

    Examples
    --------
    >>> from fuelsim.show import style
    >>> fig, axes = style.figure()
    >>> _ = axes[0, 0].plot([0.0, 1.0, 2.0], [1.0, 3.0, 2.0])
    >>> Animation(fig, [axes[0, 0]], [0.0, 1.0, 2.0])
    <Animation of 3 frames>
    """

    def __init__(self, figure: Figure, panels: Iterable[Axes], moments: Sequence[float]) -> None:
        # The layout is worked out once and stands: in every frame it would take most of the time.
        figure.draw_without_rendering()
        figure.set_layout_engine("none")
        self.figure = figure
        self.moments = tuple(float(moment) for moment in moments)
        self._panels = list(panels)
        self._whole: dict[Line2D, tuple[np.ndarray, np.ndarray]] = {
            line: (np.asarray(line.get_xdata()), np.asarray(line.get_ydata()))
            for axis in self._panels
            for line in axis.get_lines()
            # Lines across a panel and those that mark a phase are in units of the panel.
            if line.get_transform() == axis.transData
        }
        self._ends = {axis: (axis.get_xlim(), axis.get_ylim()) for axis in self._panels}

    def __repr__(self) -> str:
        return f"<Animation of {len(self.moments)} frames>"

    def show_until(self, moment: float) -> None:
        """Draw every line up to a moment.

        Parameters
        ----------
        moment : float
            Along x, in the unit of the picture.
        """
        for line, (x, y) in self._whole.items():
            shown = x <= moment
            line.set_data(x[shown], y[shown])
        for axis, (across, along) in self._ends.items():
            axis.set_xlim(across)
            axis.set_ylim(along)

    @cached_property
    def html(self) -> str:
        """The frames with buttons to play them, as HTML text that needs no other file."""
        from matplotlib import rc_context
        from matplotlib.animation import FuncAnimation

        with rc_context({"savefig.dpi": DOTS_PER_INCH, "animation.embed_limit": 50}):
            made = FuncAnimation(
                self.figure, self._show_frame, frames=len(self.moments), interval=MILLISECONDS, repeat=False
            )
            text: str = made.to_jshtml(default_mode="once")
        self.show_until(np.inf)
        return text

    def _show_frame(self, number: int) -> list[Line2D]:
        self.show_until(self.moments[number])
        return list(self._whole)

    def _repr_html_(self) -> str:
        return self.html

    @takes()
    def save(self, path: Path | str) -> Path:
        """Write the animation to a file.

        Parameters
        ----------
        path : path
            Ending in ``.gif`` or ``.html``.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            For another ending, or a file that cannot be written.
        """
        path = Path(path)
        if path.suffix.lower() not in (".gif", ".html"):
            raise InputError("no kind of animation", given=str(path), accepted="a file .gif or .html", key="path")
        write_files({path: self.html.encode() if path.suffix.lower() == ".html" else self._gif()})
        return path

    def _gif(self) -> bytes:
        from PIL import Image

        frames = []
        for moment in self.moments:
            self.show_until(moment)
            buffer = BytesIO()
            self.figure.savefig(buffer, format="png", dpi=DOTS_PER_INCH)
            frames.append(Image.open(buffer).convert("P", palette=Image.Palette.ADAPTIVE))
        self.show_until(np.inf)
        file = BytesIO()
        frames[0].save(file, format="GIF", save_all=True, append_images=frames[1:], duration=MILLISECONDS, loop=0)
        return file.getvalue()


def growing(figure: Figure, panels: Sequence[Axes], frames: int = FRAMES) -> Animation:
    """Return an animation of a picture whose lines grow from the left end of its panels to the right.

    Parameters
    ----------
    figure : Figure
        The whole picture.
    panels : sequence of Axes
        Panels with one x axis.
    frames : int
        Number of frames.
    """
    return Animation(figure, panels, np.linspace(*panels[0].get_xlim(), frames + 1)[1:].tolist())


def drive_animation(drives: Sequence[Drive]) -> Animation:
    """Return a drive as an animation: tank, rail and margin at the pump's inlet, growing with time.

    Parameters
    ----------
    drives : sequence of Drive
        One per layout, over the same schedule.
    """
    figure = drive_figure(drives)
    return growing(figure, figure.axes)
