"""Ctrl-C: what must not be cut in two is finished first."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["interruption_held"]


@contextmanager
def interruption_held() -> Iterator[None]:
    """Finish a short piece of work before Ctrl-C takes effect.

    Examples
    --------
    >>> try:
    ...     with interruption_held():
    ...         signal.raise_signal(signal.SIGINT)
    ...         print("finished")
    ... except KeyboardInterrupt:
    ...     print("stopped")
    finished
    stopped
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
