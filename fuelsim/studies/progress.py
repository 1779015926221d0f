"""Long work in steps: shows how far it is, and ends early on Ctrl-C with what is finished."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

__all__ = ["run_steps"]

_Step = TypeVar("_Step")
_Found = TypeVar("_Found")


def run_steps(
    steps: Sequence[_Step], work: Callable[[_Step], _Found], *, doing: str, progress: bool | None = None
) -> tuple[list[_Found], bool]:
    """Work through steps and return what is finished, and whether Ctrl-C ended it early.

    Parameters
    ----------
    steps : sequence
    work : callable
        From a step to its result.
    doing : str
        What is shown beside the bar.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.

    Examples
    --------
    >>> run_steps([1, 2, 3], lambda step: step * step, doing="squares", progress=False)
    ([1, 4, 9], False)
    """
    from tqdm import tqdm

    finished: list[_Found] = []
    bar = tqdm(steps, desc=doing, disable=None if progress is None else not progress, leave=False)
    try:
        for step in bar:
            finished.append(work(step))
    except KeyboardInterrupt:
        return finished, True
    finally:
        bar.close()
    return finished, False
