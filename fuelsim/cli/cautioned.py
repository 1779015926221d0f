"""The text of an answer with the cautions below it."""

from __future__ import annotations

from collections.abc import Sequence

from fuelsim.cli.console import wrapped
from fuelsim.show.html import CAUTIONS

__all__ = ["cautioned"]


def cautioned(parts: Sequence[str], *, end: str = "") -> str:
    """Return paragraphs and tables as they are, cautions cut to the width of a terminal, and a last line.

    Parameters
    ----------
    parts : sequence of str
        Paragraphs and tables.
    end : str
        Last line, such as what was written; empty for none.

    Examples
    --------
    >>> cautioned(["The answer."]).splitlines()[:3]
    ['The answer.', '', 'Cautions']
    """
    cautions = "\n".join(["Cautions", *(line for caution in CAUTIONS for line in wrapped(f"- {caution}"))])
    return "\n\n".join([*parts, cautions, *([end] if end else [])])
