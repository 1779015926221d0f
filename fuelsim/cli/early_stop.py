"""What a command does after Ctrl-C: it writes nothing, unless so much is finished that it is worth keeping."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import nullcontext

from fuelsim.cli.console import say
from fuelsim.interruption import Completion, interruption_held

__all__ = ["WORTH_KEEPING", "StoppedEarly", "Work"]

WORTH_KEEPING = 10.0
"""Time of work from which what is finished is written, s."""


class StoppedEarly(KeyboardInterrupt):
    """Ctrl-C came, and what was finished by then has been written."""


class Work:
    """The work of a command, from now on."""

    def __init__(self) -> None:
        self.started = time.monotonic()

    @property
    def worth_keeping(self) -> bool:
        """Whether so much work has been done that a part of the result is written."""
        return time.monotonic() - self.started > WORTH_KEEPING

    def finish(self, completion: Completion, write: Callable[[], str]) -> None:
        """Write the files of a command, then print its text; after Ctrl-C only if the work is worth keeping.

        Parameters
        ----------
        completion : Completion
            How much of the work is finished.
        write : callable
            Writes all files and returns the text to print. Where the work is worth keeping, Ctrl-C waits for it.

        Raises
        ------
        KeyboardInterrupt
            After Ctrl-C that ended less work; nothing is written.
        StoppedEarly
            After Ctrl-C, with what is finished written.
        """
        if completion.interrupted and not self.worth_keeping:
            raise KeyboardInterrupt
        text = ""
        try:
            with interruption_held() if self.worth_keeping else nullcontext():
                text = write()
        except KeyboardInterrupt:
            if text:
                raise StoppedEarly("stopped by Ctrl-C; all files are written") from None
            raise
        say(text)
        if completion.interrupted:
            raise StoppedEarly(str(completion))
