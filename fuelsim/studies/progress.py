"""Long work in steps: shows how far it is, and ends early on Ctrl-C with what is finished."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

__all__ = ["run_steps"]

StepT = TypeVar("StepT")
ResultT = TypeVar("ResultT")


def run_steps(
    steps: Sequence[StepT], work: Callable[[StepT], ResultT], *, doing: str, progress: bool | None = None
) -> tuple[list[ResultT], bool]:
    """Work through steps until all are done, or until Ctrl-C.

    Parameters
    ----------
    steps : sequence
        What to work on, in order.
    work : callable
        From a step to its result.
    doing : str
        What is shown beside the bar.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.

    Returns
    -------
    results : list
        Results of the steps that are finished.
    interrupted : bool
        Whether Ctrl-C ended the work early.

    Examples
    --------
    >>> run_steps([1, 2, 3], lambda step: step * step, doing="squares", progress=False)
    ([1, 4, 9], False)
    """
    from tqdm import tqdm

    finished: list[ResultT] = []
    bar = tqdm(steps, desc=doing, disable=None if progress is None else not progress, leave=False)
    try:
        for step in bar:
            finished.append(work(step))
    except KeyboardInterrupt:
        return finished, True
    finally:
        bar.close()
    return finished, False
