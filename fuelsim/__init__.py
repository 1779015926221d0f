"""fuelsim: size and prove the fuel delivery of a car converted to electronic fuel injection.

The public names stand in ``__init__.pyi``. Each loads its module when first used, so that ``import fuelsim`` costs
little.

Examples
--------
>>> import fuelsim as fs
>>> fs.si("300 kPa", "Pa")
300000.0
"""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path

__version__ = "0.1.0"

_STUB = Path(__file__).with_name("__init__.pyi").read_text(encoding="utf-8")
_MODULE_OF = {name: module for module, name in re.findall(r"^from (\S+) import (\w+) as \2$", _STUB, re.MULTILINE)}
"""Module of each public name, from the stub."""

__all__ = sorted(_MODULE_OF)


def __getattr__(name: str) -> object:
    if name not in _MODULE_OF:
        raise AttributeError(f"module 'fuelsim' has no attribute {name!r}")
    value = getattr(import_module(_MODULE_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_MODULE_OF})
