"""Names that load their module when first used, listed once in a stub file that type checkers read too."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

__all__ = ["modules_in_stub", "opened_from"]


def modules_in_stub(stub: Path) -> dict[str, str]:
    """Return the module of each name that a stub imports by ``from module import name as name``.

    Parameters
    ----------
    stub : Path
        File that ends in ``.pyi``.

    Examples
    --------
    >>> import fuelsim
    >>> modules_in_stub(Path(fuelsim.__file__).with_suffix(".pyi"))["Car"]
    'fuelsim.car.car'
    """
    lines = re.findall(r"^from (\S+) import (\w+) as \2$", stub.read_text(encoding="utf-8"), re.MULTILINE)
    return {name: module for module, name in lines}


def opened_from(module_of: dict[str, str], namespace: dict[str, object]) -> Callable[[str], object]:
    """Return a module's ``__getattr__``: it loads the module of a name and keeps the name in the namespace.

    Parameters
    ----------
    module_of : dict of str to str
        As `modules_in_stub` returns it.
    namespace : dict
        ``globals()`` of the module whose names these are.
    """

    def open_name(name: str) -> object:
        if name not in module_of:
            raise AttributeError(f"module {namespace['__name__']!r} has no attribute {name!r}")
        namespace[name] = getattr(import_module(module_of[name]), name)
        return namespace[name]

    return open_name
