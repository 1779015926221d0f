"""Ctrl-C: long work keeps what is finished and says how much that is; what must not be cut in two is finished first.

A study cuts its work into steps (`run_steps`), or integrates over time and asks now and then whether to stop
(`interruption_noted`). Its result, `Interruptible`, carries how much of the work is in it. A study inside another one
would hand over a part as if it were the whole: `whole` refuses that.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import NamedTuple, Protocol, TypeVar, runtime_checkable

__all__ = [
    "WHOLE",
    "Completion",
    "Executor",
    "Interruptible",
    "Interruption",
    "interruption_held",
    "interruption_noted",
    "run_steps",
    "whole",
]

StepT = TypeVar("StepT")
ResultT = TypeVar("ResultT")
ResultCo = TypeVar("ResultCo", covariant=True)


class Completion(NamedTuple):
    """How much of a study is finished.

    Attributes
    ----------
    finished, planned : float
        Amount that is finished, and that was asked for.
    of : str
        What is counted, such as ``"layouts"`` or ``"min"``.
    interrupted : bool
        Whether Ctrl-C ended the study early.

    Examples
    --------
    >>> print(Completion(2, 3, "layouts", True))
    stopped early: 2 of 3 layouts
    """

    finished: float = 1
    planned: float = 1
    of: str = ""
    interrupted: bool = False

    def __str__(self) -> str:
        if not self.interrupted:
            return ""
        return f"stopped early: {self.finished:.4g} of {self.planned:.4g} {self.of}".rstrip()


WHOLE = Completion()
"""Of a study that ran to its end."""


class Interruptible:
    """A result that Ctrl-C may have cut short; `completion` says how much of it is there."""

    completion: Completion

    @property
    def interrupted(self) -> bool:
        """Whether Ctrl-C ended the study early; what is there is complete in itself."""
        return self.completion.interrupted


AnyResult = TypeVar("AnyResult", bound=Interruptible)


def whole(result: AnyResult) -> AnyResult:
    """Return the result of a study that is part of another one, if it ran to its end.

    Parameters
    ----------
    result : Interruptible
        The result.

    Raises
    ------
    KeyboardInterrupt
        Where Ctrl-C cut it short: the study around it has no use for a part.
    """
    if result.interrupted:
        raise KeyboardInterrupt
    return result


class Submitted(Protocol[ResultCo]):
    """Work given to an executor: a future of `concurrent.futures`, or of dask."""

    def result(self) -> ResultCo:
        """Wait for the work and return what it brought."""

    def done(self) -> bool:
        """Return whether the work is finished."""

    def cancel(self) -> object:
        """Give up the work if it has not begun."""


@runtime_checkable
class Executor(Protocol):
    """What runs functions elsewhere: any executor of `concurrent.futures`, or a client of dask."""

    def submit(self, fn: Callable[[StepT], ResultT], /, step: StepT) -> Submitted[ResultT]:
        """Give a function and what it works on to the executor.

        Parameters
        ----------
        fn : callable
            From a step to its result.
        step : object
            The step.
        """


def run_steps(
    steps: Sequence[StepT],
    work: Callable[[StepT], ResultT],
    *,
    doing: str,
    of: str,
    progress: bool | None = None,
    executor: Executor | None = None,
) -> tuple[list[ResultT], Completion]:
    """Work through steps until all are done, or until Ctrl-C.

    Parameters
    ----------
    steps : sequence
        What to work on, in order.
    work : callable
        From a step to its result.
    doing : str
        What is shown beside the bar.
    of : str
        What the steps are, in the plural.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.
    executor : Executor, optional
        What works on the steps side by side, such as ``ProcessPoolExecutor()``; left out, one after the other here.
        Another process needs a `work` that can be pickled.

    Returns
    -------
    results : list
        Results of the steps that are finished, in their order; after Ctrl-C with an executor some between are missing.
    completion : Completion
        How many these are, and whether Ctrl-C ended the work early.

    Examples
    --------
    >>> results, completion = run_steps([1, 2, 3], lambda step: step * step, doing="squares", of="numbers")
    >>> results, completion.interrupted
    ([1, 4, 9], False)
    """
    from tqdm import tqdm

    finished: list[ResultT] = []
    submitted: list[Submitted[ResultT]] = []
    interrupted = False
    hidden = True if sys.stderr is None else None if progress is None else not progress
    bar = tqdm(steps, desc=doing, disable=hidden, leave=False)
    try:
        if executor is not None:
            submitted = [executor.submit(work, step) for step in steps]
        for number, step in enumerate(bar):
            finished.append(submitted[number].result() if submitted else work(step))
    except KeyboardInterrupt:
        interrupted = True
        rest = submitted[len(finished) :]
        done = [future for future in rest if future.done()]
        for future in rest:
            future.cancel()
        finished += [future.result() for future in done]
    finally:
        bar.close()
    return finished, Completion(len(finished), len(steps), of, interrupted)


class Interruption:
    """Whether Ctrl-C came.

    Attributes
    ----------
    came : bool
        Whether it did.
    """

    def __init__(self) -> None:
        self.came = False

    def event(self) -> Callable[[float, object], float]:
        """Return an event of ``scipy.integrate.solve_ivp`` that ends an integration within the step of Ctrl-C.

        Examples
        --------
        >>> import numpy as np
        >>> from scipy.integrate import solve_ivp
        >>> interruption = Interruption()
        >>> def rate(time, y):
        ...     interruption.came = time > 3.0
        ...     return -y
        >>> answer = solve_ivp(rate, (0.0, 9.0), [1.0], t_eval=np.arange(10.0), events=interruption.event())
        >>> bool(2.0 <= answer.t[-1] < 6.0)
        True
        """
        ends: list[float] = []
        before: list[float] = []

        def time_left(time: float, _state: object) -> float:
            if not self.came:
                before[:] = [time]
                return 1.0
            if not ends:
                ends.append(0.5 * (before[0] + time) if before else time)
            return ends[0] - time

        time_left.terminal = True  # type: ignore[attr-defined]
        return time_left


@contextmanager
def interruption_noted() -> Iterator[Interruption]:
    """Note the first Ctrl-C instead of raising KeyboardInterrupt, which the second one does.

    Outside the main thread, which alone gets Ctrl-C, and where something else handles it, nothing is changed.

    Examples
    --------
    >>> with interruption_noted() as interruption:
    ...     done = [number for number in range(3) if not interruption.came]
    >>> done
    [0, 1, 2]
    """
    interruption = Interruption()
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield interruption
        return

    def note(number: int, frame: FrameType | None) -> None:
        if interruption.came:
            before(number, frame)
        interruption.came = True

    signal.signal(signal.SIGINT, note)
    try:
        yield interruption
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def interruption_held() -> Iterator[None]:
    """Finish a short piece of work before Ctrl-C takes effect, however often it comes.

    Examples
    --------
    >>> with interruption_held():
    ...     print("never half of this")
    never half of this
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    came: list[FrameType | None] = []
    signal.signal(signal.SIGINT, lambda _number, frame: came.append(frame))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if came:
            before(signal.SIGINT, came[0])
