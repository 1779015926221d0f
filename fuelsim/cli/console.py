"""What is printed: no console is too poor for it, and one that fails is a message."""

from __future__ import annotations

import os
import sys
import textwrap
from contextlib import suppress
from typing import TextIO

from fuelsim.errors import FuelsimError

__all__ = ["WIDTH", "ConsoleError", "complain", "say", "silence", "wrapped"]

WIDTH = 80
"""Characters in a line of a terminal."""


class ConsoleError(FuelsimError):
    """Standard output takes no more text: it is full, closed, or nobody reads it any longer.

    Attributes
    ----------
    unread : bool
        Whether the program that read the output closed it, as `head` does.
    """

    def __init__(self, message: str, unread: bool) -> None:
        super().__init__(message)
        self.unread = unread


def say(text: str) -> None:
    """Print a text and the end of its line; characters that the console does not have become question marks.

    Parameters
    ----------
    text : str
        Any text.

    Raises
    ------
    ConsoleError
        Where standard output takes no more; one that was closed from the start takes all and shows nothing.
    """
    try:
        _write(sys.stdout, text)
    except (OSError, ValueError) as error:  # ValueError: the stream is closed
        reason = getattr(error, "strerror", None) or error
        raise ConsoleError(f"the text cannot be printed ({reason})", isinstance(error, BrokenPipeError)) from error


def complain(text: str) -> None:
    """Print a text to standard error, if that takes it.

    Parameters
    ----------
    text : str
        Any text.
    """
    with suppress(OSError, ValueError):
        _write(sys.stderr, text)


def silence() -> None:
    """Send what is still to be printed to nowhere, so that the end of the program is not an error too."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _write(stream: TextIO | None, text: str) -> None:
    if stream is None:
        return
    try:
        stream.write(f"{text}\n")
    except UnicodeEncodeError:
        encoding = stream.encoding or "ascii"
        stream.write(f"{text.encode(encoding, 'replace').decode(encoding)}\n")
    stream.flush()


def wrapped(line: str) -> list[str]:
    """Return a line cut to the width of a terminal; what follows an indent, a dash or a number stays indented.

    Parameters
    ----------
    line : str
        Text without line ends.
    """
    indent = " " * (len(line) - len(line.lstrip(" -0123456789.")))
    return textwrap.wrap(line, WIDTH, subsequent_indent=indent[:6], break_on_hyphens=False) or [""]
